"""The bench page: type a formula in the browser, watch the answer (extra `page`).

`state`, `work_store`, `texts`, `figures` and `answers` know of no browser; `page`, `grid` and
`sections` lay them out with NiceGUI; `server` and `guard` serve them, on this computer only.
"""
