"""The crib's memory: sites, sets, blocks, plans, loans and their history, in SQLite or PostgreSQL.

Nothing here knows of HTTP. Everything blocks, so it runs in worker threads, never in the event
loop. Rows become Structs in the repositories, one file a noun, and go no further.
"""
