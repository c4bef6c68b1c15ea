"""The parts of the front door: what stands behind front_door.py, and no way in of its own."""
