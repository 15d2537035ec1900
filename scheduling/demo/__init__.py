"""One invented job, played over HTTP as its people would; every answer is the service's own."""
