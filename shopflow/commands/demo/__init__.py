"""The demo shop: files of seed_data carried out by the same actions as people use."""
