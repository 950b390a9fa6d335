"""Cut plans as they are asked for, stored, accepted and shown."""
