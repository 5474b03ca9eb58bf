"""The pages for people at the bench, made here as HTML; each asks what a program would ask.

A page turns its address into the body of a request (`question`, `entry`), lets the same work
answer it (`asking`), and shows the answer (`view`, `rendering`). Scripts only save reloading.
"""
