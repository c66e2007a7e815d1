"""ecCodes' own C functions, called without its Python package's work around them: a whole field decoded into room that is kept, then indexed.

The library is the one that PyPI's `eccodes` brings. Indexing and interpolation are numpy's, over arrays made beforehand.
"""

import ctypes
import time

import numpy
from gribapi.bindings import library_path

LIBRARY = ctypes.CDLL(library_path)
LIBRARY.codes_handle_new_from_message.restype = ctypes.c_void_p
LIBRARY.codes_handle_new_from_message.argtypes = [ctypes.c_void_p, ctypes.c_char_p, ctypes.c_size_t]
LIBRARY.codes_get_double_array.argtypes = [ctypes.c_void_p, ctypes.c_char_p, ctypes.c_void_p, ctypes.POINTER(ctypes.c_size_t)]
LIBRARY.codes_handle_delete.argtypes = [ctypes.c_void_p]


class Reader:
    """Values between nodes that are known: indices into a field's values, and weights, both places by four."""

    def __init__(self, points, indices, weights):
        self.values, self.indices, self.weights = numpy.empty(points), indices, weights

    def ask(self, message):
        """Nanoseconds, and the values; the message is not copied."""
        started = time.perf_counter_ns()
        handle = LIBRARY.codes_handle_new_from_message(None, message, len(message))
        assert handle, "no message"
        count = ctypes.c_size_t(len(self.values))
        error = LIBRARY.codes_get_double_array(handle, b"values", self.values.ctypes.data, ctypes.byref(count))
        assert error == 0 and count.value == len(self.values), error
        found = (self.values[self.indices] * self.weights).sum(1)
        LIBRARY.codes_handle_delete(handle)
        return time.perf_counter_ns() - started, found
