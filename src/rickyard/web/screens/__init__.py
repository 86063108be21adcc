"""The pages, by subject. Each module has a `router`."""

from rickyard.web.screens import (
    clashes,
    deliveries,
    gate,
    households,
    lookups,
    orders,
    people,
    phone,
    photos,
    readings,
    shell,
    stacking,
    stacks,
    today,
    tree,
    wares,
    wood_in,
    yard,
)

screen_routers = (
    today.router,
    tree.router,
    wood_in.router,
    stacking.router,
    stacks.router,
    readings.router,
    clashes.router,
    photos.router,
    people.router,
    households.router,
    orders.router,
    deliveries.router,
    gate.router,
    wares.router,
    yard.router,
    phone.router,
    lookups.router,
    shell.router,
)
"""Routers of all pages, in the order in which their paths are tried."""
