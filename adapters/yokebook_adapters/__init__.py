"""Adapters: each a module or folder that lets another tool or person call yokebook. The engine never imports them."""
