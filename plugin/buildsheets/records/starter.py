"""The text a new record starts from."""

from __future__ import annotations

import json

_TEXT = """\
# yaml-language-server: $schema={schema}
#
# One locomotive's conversion. Quantities are text with a unit: 20.3 mm, 6 V, 5 ft 2 in, 2k2, 1 in 60.
# Write what you know and leave out the rest; the sheet lists what is still to measure, and how.
# Take the "# " off a line to use it, then check the file with: buildsheets check

format: 1
title: {title}
status: planned            # planned | on the bench | running | set aside
# route: [motor swap, pinion change, dropper]
# builder: Workshop group
# dates: {{started: 2026-03-02}}
# summary: >
#   What was wrong with it, what was changed, how it runs now.

# prototype:
#   type: steam
#   driving_wheel: 5 ft 2 in
#   top_speed: 55 mph
#   cylinders: 2

model:
  scale: {scale}
  # driving_wheel: 20.3 mm   # over the tread
  # mass: 285 g
  # driven_mass: 240 g       # what the driven wheels carry

# gear_train:
#   stages:                  # from motor to axle
#     - {{driver: 11, driven: 38, module: 0.4 mm}}
#     - {{worm: 1, driven: 24}}

# motor:                     # or stock: and the name of a part in builds/stock
#   kind: iron core
#   nominal_voltage: 12 V
#   no_load_speed: 9500 rpm
#   no_load_current: 55 mA
#   stall_current: 0.9 A

# decoder:
#   kind: motor and lamps
#   pulse_class: high
#   continuous_current: 1.0 A

# supply: {{track: 14.5 V ± 3 %, meter: rectified}}

# dropper:
#   resistor: {{resistance: 47 ohm, tolerance: 5 %, rating: 0.5 W}}
#   parallel: 2

# target: {{speed: 55 mph, at_step: 126, start_step: 8}}

# train: {{vehicles: 4, vehicle_mass: 110 g, grade: 1 in 60}}
"""


def starter_record(title: str, scale: str, schema: str) -> str:
    """Return a commented record that passes the check as it stands.

    Parameters
    ----------
    title : str
        What the sheet is called.
    scale : str
        A named scale.
    schema : str
        Path or address of the schema, as seen from the record, for the editor.
    """
    return _TEXT.format(title=_text(title), scale=_text(scale), schema=schema)


def _text(value: str) -> str:
    """Quoted text: right in YAML whatever it holds."""
    return json.dumps(" ".join(value.split()), ensure_ascii=False)
