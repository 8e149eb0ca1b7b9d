"""The person's own materials, finding materials, and how good the catalogue is."""
