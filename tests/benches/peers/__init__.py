"""One job, sweeping a corner over top-mount positions and travels, written with general-purpose libraries."""
