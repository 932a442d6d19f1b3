"""One leg over terrain and round no-fly areas."""

import geo.base.kernel_cache  # noqa: F401  # before the first kernel is defined
