"""The shop itself: crib, machines, materials, house rules."""
