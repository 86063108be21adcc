"""How a load's wood is said in a breath, for the forms; the reading itself is the desk's."""

from rickyard.desk.mixes import read_mix as read_mix
