"""Frozen types that belong to no room: they carry values between rooms and hold no logic of their own."""
