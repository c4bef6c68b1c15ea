"""Questions ruled on whole columns: a flat record a row, in DuckDB or Spark, where the data already are.

`compiling.compile_question` turns the tables that a question needs into one SELECT. It settles the rows that SQL can
settle soundly; every other row goes to the evaluator, each distinct combination once, and its ruling is joined back.
Needs the extra `columns` (sqlglot, duckdb, tqdm); `on_spark` also needs `spark` (pyspark).
"""
