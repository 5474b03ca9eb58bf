"""What can be built, or proven unbuildable, quickly by simple means, without a search."""
