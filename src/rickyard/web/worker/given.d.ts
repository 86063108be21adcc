// What the server puts before the worker's text.
declare const VERSION: string;
declare const SHELL: string[];
declare const AWAY: string;
declare const KEEP: string;
declare const STAND_INS: Record<string, string>;
