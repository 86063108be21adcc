"""What the law says of measure and wording, place by place, as far as it was read.

`place_rules` gives a place's units, words, sizes of a cord and ticket fields, each with source and date.
`check_wording` finds what a text says that those rules do not allow, `wording_cautions` what they leave open.
`quantity_in_lawful_units` gives the units a ticket should print.
`movement_note` is the sentence that tickets carry until rules of movement are checked.
`pests_of` gives the pests that a wood may carry, with what was read of their rules.
Nothing here is legal advice: every answer names the authority to ask.
"""

from rickyard.rules.law import MeasureRules as MeasureRules
from rickyard.rules.law import Rule as Rule
from rickyard.rules.law import Source as Source
from rickyard.rules.law import TicketField as TicketField
from rickyard.rules.law import movement_note as movement_note
from rickyard.rules.law import place_rules as place_rules
from rickyard.rules.law import quantity_in_lawful_units as quantity_in_lawful_units
from rickyard.rules.law import ticket_fields as ticket_fields
from rickyard.rules.law import weight_notes as weight_notes
from rickyard.rules.pests import PESTS_READ_ON as PESTS_READ_ON
from rickyard.rules.pests import Pest as Pest
from rickyard.rules.pests import all_pests as all_pests
from rickyard.rules.pests import pests_of as pests_of
from rickyard.rules.places import Place as Place
from rickyard.rules.places import all_places as all_places
from rickyard.rules.places import find_place as find_place
from rickyard.rules.wording import WordingProblem as WordingProblem
from rickyard.rules.wording import check_wording as check_wording
from rickyard.rules.wording import wording_cautions as wording_cautions
