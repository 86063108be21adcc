// What the unit tests of the scripts share.

export function equal(got, wanted, what = "") {
  const [a, b] = [JSON.stringify(got), JSON.stringify(wanted)];
  if (a !== b) throw new Error(`${what} got ${a}, wanted ${b}`);
}

export function ok(condition, what) {
  if (!condition) throw new Error(what);
}

export async function fails(run, name) {
  try {
    await run();
  } catch (error) {
    equal(error.name, name, "error");
    return;
  }
  throw new Error(`no ${name}`);
}
