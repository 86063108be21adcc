"""What wood is worth to a house: heat per kilogram, per cord, per stacked and per solid cubic metre.

`heat_row` gives all figures of a species under the stated convention, `heat_of_dry_mass` the heat of an amount.
The convention is `CONVENTION`: net heat, 20 % moisture wet basis, 85 ft³ of solid wood without bark per cord.
`solid_m3_for` says which solid content a figure per cord stands for, `flue_balance` what a chimney takes.
`stack_content` says what stands in a stack: solid wood, mass and heat.
`burning` gives how sources rate a wood in the fire and under the axe.
"""

from rickyard.heat.amount import CONVENTION as CONVENTION
from rickyard.heat.amount import SOLID_M3_PER_CORD as SOLID_M3_PER_CORD
from rickyard.heat.amount import Convention as Convention
from rickyard.heat.amount import HeatRow as HeatRow
from rickyard.heat.amount import heat_of_dry_mass as heat_of_dry_mass
from rickyard.heat.amount import heat_row as heat_row
from rickyard.heat.amount import solid_m3_for as solid_m3_for
from rickyard.heat.burning import QUALITIES as QUALITIES
from rickyard.heat.burning import RATINGS as RATINGS
from rickyard.heat.burning import BurningSource as BurningSource
from rickyard.heat.burning import Rating as Rating
from rickyard.heat.burning import all_ratings as all_ratings
from rickyard.heat.burning import burning as burning
from rickyard.heat.burning import burning_sources as burning_sources
from rickyard.heat.burning import by_rating as by_rating
from rickyard.heat.chimney import FlueBalance as FlueBalance
from rickyard.heat.chimney import flue_balance as flue_balance
from rickyard.heat.fuel import Basis as Basis
from rickyard.heat.fuel import HeatValue as HeatValue
from rickyard.heat.fuel import gross_mj_per_kg as gross_mj_per_kg
from rickyard.heat.fuel import heat_value as heat_value
from rickyard.heat.fuel import net_mj_per_kg as net_mj_per_kg
from rickyard.heat.stacks import MassAndHeat as MassAndHeat
from rickyard.heat.stacks import StackContent as StackContent
from rickyard.heat.stacks import stack_content as stack_content
