"""What the phone's own scripts say; they get it with the page, in the user's language."""

from __future__ import annotations

from rickyard.show import Voice
from rickyard.text import T_, Text

WORDS: dict[str, Text] = {
    "waiting": T_("waiting to be sent"),
    "sending": T_("being sent"),
    "done": T_("in the book"),
    "needs": T_("needs you"),
    "other": T_("waits for {name}", name="{name}"),
    "nobody": T_("nobody in particular"),
    "open": T_("Put it right"),
    "look": T_("Look at it"),
    "sendNow": T_("Try now"),
    "throwAway": T_("Throw it away"),
    "sure": T_("Sure? Tap again to throw it away"),
    "badge": T_("{count} to send", count="{count}"),
    "badgeNeeds": T_("{count} to put right", count="{count}"),
    "heading": T_("Something to put right"),
    "photo": T_("Photo"),
    "full": T_(
        "Wanted room on this phone to keep this, got none: its storage is full. Clear some space or send what "
        "waits in the outbox, then tap again; what you typed still stands here."
    ),
    "notKept": T_("This could not be kept on the phone; what you typed still stands here. Tap again."),
    "tight": T_(
        "This phone's storage is nearly full. Send what waits, or clear some space, before it runs out."
    ),
    "outbox": T_("Outbox"),
    "restored": T_("This was typed here before and not sent."),
    "afresh": T_("Start afresh"),
    "asOf": T_("No signal. This page is as of {when}; what you enter is kept and sent later.", when="{when}"),
    "asOfShort": T_("as of {when}", when="{when}"),
    "noLook": T_(
        "No signal: only the yard's computer can reckon this. You can enter it all the same; it is kept here and sent "
        "later."
    ),
    "noAnswer": T_(
        "No signal: only the yard's computer can answer this. What you typed still stands here; try again when there "
        "is signal."
    ),
    "signIn": T_("What waits in the outbox goes once you are signed in."),
    "signInNow": T_("Sign in"),
    "newVersion": T_("There is a new version. Reload when you like; what you typed and what waits stays."),
    "reload": T_("Reload"),
    "noPages": T_(
        "This browser keeps no pages, so none opens here without signal. On a page that is open already, what you "
        "type still waits in the outbox until there is signal. To open pages without signal, leave the private "
        "window, allow this site to keep data, or use another browser."
    ),
}


def outbox_words(voice: Voice) -> dict[str, str]:
    """The words by name; `{name}`, `{count}` and `{when}` are put in by the scripts."""
    return {name: voice.text(text) for name, text in WORDS.items()}
