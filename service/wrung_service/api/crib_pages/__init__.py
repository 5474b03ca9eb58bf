"""The pages of the tool crib, made here as HTML; each asks what a program would ask.

What a page shows is put together in `case`, `absent`, `due`, `timeline`; `rendering` fills it into
the templates of ``pages/crib``. Forms post to `changing`, which calls the use cases of the API.
Access is that of the API (`wrung_service.api.admission`); the key comes in a cookie (`signing_in`).
"""
