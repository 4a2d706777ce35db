"""Everything that touches Open CASCADE; imported only in the warm parent and its children, never by a caller."""
