"""How a straight setup is held, located and picked up."""
