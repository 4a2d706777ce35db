"""T-slots, dovetails and grooves: undercuts that a cutter wider than its neck makes from their mouth."""
