"""What each page shows: frozen values worked out here, so that templates only loop and choose."""
