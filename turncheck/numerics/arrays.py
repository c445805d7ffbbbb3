"""What arrays hold, their shapes standing where they are used; and what neighbours make of them."""

from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Bytes = NDArray[np.uint8]
Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]
FloatsOrOne = TypeVar("FloatsOrOne", float, NDArray[np.float64])


def running(combine: np.ufunc, values: NDArray[np.generic], width: int) -> NDArray[Any]:
    """Return what a ufunc makes of each `width` neighbours along the last axis.

    Parameters
    ----------
    values
        (..., n); where n < width, nothing is returned of it.

    Returns
    -------
    (..., n - width + 1) array

    Examples
    --------
    >>> running(np.maximum, np.array([3, 1, 0, 2]), 2).tolist()
    [3, 1, 2]
    """
    count = max(values.shape[-1] - width + 1, 0)
    found = values[..., :count].copy()
    for first in range(1, width):
        combine(found, values[..., first : first + count], out=found)
    return found
