"""Material and its removal: columns of stock, tools swept through them, what every motion cuts and touches."""
