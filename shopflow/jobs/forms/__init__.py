"""What people type on the pages of this app, checked."""
