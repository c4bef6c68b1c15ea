"""A small invented shop: one device in one room."""

from __future__ import annotations

#: One split duplex on a sensor with a sticker on its plate for a mark: the mark is not as it should be.
SMALL = """\
project: {name: "NAME", place: demo/tamarisk/brindle-falls, dates: {permit application: 2024-10-15}, stated_by: "NAME"}
complete: yes
spaces:
  - id: office
    name: "NAME"
    occupancy: office
    use: private office
    yokes:
      - id: R1
        location: "NAME"
        configuration: 5-20R
        device_type: duplex
        built_in_control: no
        contacts:
          - {id: upper, position: upper, supply: controlled, circuit: P/1, load: none, controls: [C1],
             mark: symbol and word, mark_place: plate, mark_permanent: no, mark_shows_contact: yes}
          - {id: lower, position: lower, supply: always on, circuit: P/1, load: none, controls: [], mark: none}
controls:
  - {id: C1, kind: ceiling sensor and relay, turns_off_by: presence, off_delay_min: 15 min, amps: 20, wired_loads: []}
circuits:
  - {id: P/1, breaker_amps: 20, volts: 120}
"""
