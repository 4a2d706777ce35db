"""What must never be lost: files kept by hash, the ledger, long work as rows."""
