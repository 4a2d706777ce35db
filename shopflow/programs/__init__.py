"""Program revisions, findings, decisions, sign-off, floor copies."""
