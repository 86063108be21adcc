"""What is odd about the input of a plan, though it can be planned, and what its answer stands on."""

from __future__ import annotations

from collections.abc import Sequence

from rickyard.cut.logs import CutLog, Saw, Ware
from rickyard.cut.plan import CutPlan
from rickyard.cut.sums import bark_ratio
from rickyard.errors import InputError
from rickyard.text import T_, Quantity, Text


def cautions_of(logs: Sequence[CutLog], wares: Sequence[Ware], saw: Saw) -> tuple[Text, ...]:
    """What is odd about the input, though it can be planned."""
    said: list[Text] = []
    if saw.kerf_m == 0.0:
        said.append(T_("The kerf is zero: every saw takes wood, and the last piece may not fit."))
    gone = [log.log_id for log in logs if log.length_m <= 2.0 * saw.trim_m]
    if gone:
        said.append(
            T_(
                "Nothing is left between the trims of both ends: {logs}.",
                logs=", ".join(gone[:10]) + (", ..." if len(gone) > 10 else ""),
            )
        )
    longest = max(log.length_m for log in logs) - 2.0 * saw.trim_m
    for ware in wares:
        if ware.length_m > longest + 1e-6:
            said.append(
                T_(
                    "{ware} is {length:g} m long, longer than any log less its trim ({longest:g} m): none can be cut.",
                    ware=ware.name,
                    length=ware.length_m,
                    longest=round(longest, 3),
                )
            )
    lapping = [log.log_id for log in logs if _overlap(log)]
    if lapping:
        said.append(
            T_(
                "Defects that overlap were taken together: {logs}.",
                logs=", ".join(lapping[:10]) + (", ..." if len(lapping) > 10 else ""),
            )
        )
    unknown = sum(bark_ratio(log.species) is None for log in logs)
    if unknown:
        said.append(
            T_("Bark was left out of the sums for logs whose species is not known: {count}.", count=unknown)
        )
    return tuple(said)


def check_trim(logs: Sequence[CutLog], saw: Saw) -> None:
    """Raises InputError for trim if it leaves nothing of any log."""
    longest = max(log.length_m for log in logs)
    if 2.0 * saw.trim_m >= longest:
        raise InputError(
            "trim",
            wanted=T_("less than half of the longest log of {length}", length=Quantity(longest, "size")),
            got=Quantity(saw.trim_m, "size"),
            next_move=T_("The trim is cut off each end; look at its unit."),
        )


def method_note(plan: CutPlan) -> Text | None:
    """What to know of the way the plan was found; None where it is the best there is."""
    if plan.method == "prices":
        return T_(
            "{count} logs are too many to be weighed against one another: the plan was put together log by log at the "
            "best prices found. No plan can be worth more than {bound:.2f}.",
            count=len(plan.logs),
            bound=plan.bound,
        )
    if plan.method == "columns" and plan.gap > 1e-9:
        return T_("Another plan could be worth at most {bound:.2f}.", bound=plan.bound)
    return None


def _overlap(log: CutLog) -> bool:
    at = -1.0
    for defect in sorted(log.defects, key=lambda defect: defect.from_m):
        if defect.from_m < at - 1e-6:
            return True
        at = max(at, defect.to_m)
    return False
