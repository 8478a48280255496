"""The frozen documents that everything human-facing renders. Each makes JSON and is made from it again, unchanged.

One document per question; `kind` says which. A judging document has the verdict, the sentence that explains it, and
`parts`, the tree of judgements with all their evidence. Numbers keep their units in their names or beside them.

Nothing is imported here, so that a command builds only the documents it makes.
"""
