"""The phones and the practice of the journeys, for the figures that need a browser."""

from tests.journeys.conftest import base_url, browser_type_launch_args, phones, practice, visits

__all__ = ["base_url", "browser_type_launch_args", "phones", "practice", "visits"]
