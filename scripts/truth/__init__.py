"""A second world to try forecasts on: split wood drying in real hours, computed by a model of its own.

It shares no code with the package: other geometry (wedges on a polar grid), other scheme (implicit sweeps with
nodes on the faces), other laws of diffusion and sorption, other film, other heat balance, air inside the stack.
Nothing here imports `rickyard`; a test holds that.

`laws` has the material laws, `wedge` the solver, `worlds` the draws and what a yard would measure, `hours` the
real weather.
"""
