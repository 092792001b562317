"""Devices that need no hardware: shipped code with a driving API, used by the desk, the rehearsals and the tests."""
