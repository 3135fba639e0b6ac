"""How every test runs."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("curewatch", deadline=None, print_blob=True)
settings.load_profile("curewatch")
