"""What arrays hold; their shapes stand where they are used."""

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Bytes = NDArray[np.uint8]
Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]
FloatsOrOne = TypeVar("FloatsOrOne", float, NDArray[np.float64])
