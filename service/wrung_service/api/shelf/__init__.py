"""Sites, sets and blocks of the crib: ``/v1/sites`` and what is below it."""
