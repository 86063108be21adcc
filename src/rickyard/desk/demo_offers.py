"""What is offered to the demo yard on its last day: an open load, a street tree and logs, and one load it refused.

Told after all else, with figures that are written down, so that the rest of the demo stays as it is.
"""

from __future__ import annotations

from datetime import timedelta

from rickyard.desk.demo_facts import COUNTIES, SOURCES
from rickyard.desk.demo_story import Story
from rickyard.desk.offers import NoteOffer, OfferFacts, RefuseOffer, TreeFacts, note_offer, refuse_offer
from rickyard.desk.wood_in import Harvest
from rickyard.measure import CORD_M3, Defect, LogRow


def offers_come(story: Story) -> None:
    """Three open offers and a refused one."""
    york = Harvest(country="CA", subdivision="NB", county=COUNTIES[0])
    last = story.as_of
    nailed = _note(
        story,
        OfferFacts(
            source=SOURCES[4],
            harvest=york,
            offered_on=last - timedelta(days=4),
            quantity=5 * CORD_M3,
            shares=(("acer_rubrum", 0.5), ("populus_tremuloides", 0.5)),
            typed="5 cords",
            asked_minor=35000,
            origin="yard",
            rot_share=0.15,
            note="old fence line, wire seen in two logs",
        ),
    )
    refuse_offer(
        story.at(last, hour=20),
        RefuseOffer(key=story.key(), offer_id=nailed, reason="wire in it, and too dear for what it gives"),
    )
    _note(
        story,
        OfferFacts(
            source=SOURCES[5],
            harvest=york,
            offered_on=last - timedelta(days=1),
            quantity=10 * CORD_M3,
            shares=(("acer_saccharum", 0.6), ("betula_alleghaniensis", 0.4)),
            typed="10 cords",
            asked_minor=90000,
        ),
    )
    _note(
        story,
        OfferFacts(
            source=SOURCES[0],
            harvest=york,
            offered_on=last,
            trees=(TreeFacts(species="acer_saccharum", dbh_m=0.62, height_m=17.0, count=2),),
            asked_minor=-15000,
            haul_minor=12000,
            origin="yard",
        ),
    )
    straight = [
        LogRow(species_id="fraxinus_americana", length_m=3.66, mid_d_m=d) for d in (0.31, 0.28, 0.26, 0.24)
    ]
    rotten = LogRow(
        species_id="fraxinus_americana",
        length_m=3.66,
        mid_d_m=0.36,
        defects=(Defect("rot", 0.0, 1.2, share=0.4),),
    )
    _note(
        story,
        OfferFacts(
            source=SOURCES[3],
            harvest=york,
            offered_on=last,
            logs=(*straight * 8, rotten, rotten),
            asked_minor=32000,
        ),
    )


def _note(story: Story, facts: OfferFacts) -> int:
    desk = story.at(story.as_of, hour=20)
    return int(note_offer(desk, NoteOffer(key=story.key(), facts=facts))["offer_id"])
