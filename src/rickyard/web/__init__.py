"""The web application: pages for the phone and the table, and the same things as JSON under /api/.

app        `create_app`, the application on a book
server     `run_server`, which serves it
security   headers, the check of where a change comes from
visit      one request's surroundings: desk, language, units; how a page is answered
forms      a form as it was sent
screens    the pages, by subject
api        the same as JSON
charts     the geometry of what is drawn
"""
