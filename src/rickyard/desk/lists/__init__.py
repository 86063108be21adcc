"""Lists of customers, stock and prices as other programs keep them: looked at, matched, taken in as a whole."""

from rickyard.desk.lists.columns import COLUMNS as COLUMNS
from rickyard.desk.lists.columns import KINDS as KINDS
from rickyard.desk.lists.columns import UNITS as UNITS
from rickyard.desk.lists.lines import Asked as Asked
from rickyard.desk.lists.planned import Fact as Fact
from rickyard.desk.lists.planned import PlannedLine as PlannedLine
