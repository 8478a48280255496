"""Drills: recordings that stop and ask. Nothing here knows a page or a terminal. The one page to read first.

    make.make(folder)                 a drill from the captures below a folder: where to stop, and what to ask
    drill_file.load(path)             a drill's TOML with its captures read; `mistakes` names every one in it
    questions.questions(drill)        what is asked, in order, without the answers
    questions.truth(drill, question)  the answer, computed from what was known at that moment, and what decides it
    score.points(question, given, truth)
    results                           points by kind of question; a class's results as CSV

A drill never holds its answers: they are what the checks say of the recording as it stood (`recording.until`).
"""
