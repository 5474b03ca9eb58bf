"""HTTP only: what is on the wire, one file a resource."""
