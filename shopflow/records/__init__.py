"""What must never be lost: files by hash, the ledger and its chains, long work as rows."""
