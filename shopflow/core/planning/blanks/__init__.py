"""What a piece is made from: the sawn block, castings, and how bars of the rack give it."""
