"""What one wrung joint adds to the worst-case error of a stack."""

from typing import Final

from wrung.lengths import QUANTA

DEFAULT_JOINT_ALLOWANCE: Final = QUANTA["uin"]
"""1 µin (25.4 nm) a joint.

A block's length includes one wringing film (definition of ISO 3650; from memory), so a good joint
adds only what its film differs from that one. Films are 6 to 7 nm thick (web textbook
what-when-how.com, "Slip Gauges (Metrology)"); older reference works go up to about 25 nm (from
memory, not checked against print). The default takes the largest of these, to be on the safe side.
"""
