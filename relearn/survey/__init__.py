"""Many captures at once: every capture below some folders, judged like one, a row each. The one page to read first.

find.captures_below(folders)       which files, in a stable order, each once
judge.judge(found, asked)          one file to one row; what every worker runs
pool.judged, cluster.judged        the same function in processes of this computer, or on a Dask cluster
run.survey(...)                    rows that are there already, then the rest; kept in a file as they come
table                              rows as a pandas table, and that as CSV or Parquet and back
summary.summary(...)               rows to the document that is shown
"""
