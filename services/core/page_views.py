"""What the pages draw of the region that is served: one holder of it for the life of the process."""

from geo import pipeline

VIEWS = pipeline.page_views()
