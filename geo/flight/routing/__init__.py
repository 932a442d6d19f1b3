"""The quickest route round high ground."""

import geo.base.kernel_cache  # noqa: F401  # before the first kernel is defined
