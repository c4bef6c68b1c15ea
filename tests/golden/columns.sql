WITH step_1 AS (
  SELECT
    *,
    CASE WHEN "contact.x" IN ('a', 'b', 'c') THEN "contact.x" END AS "~contact.x",
    TRY_CAST("contact.n" AS DECIMAL(15, 6)) AS "~contact.n",
    (
      "contact.x" IS NULL OR COALESCE("contact.x" IN ('a', 'b', 'c'), FALSE)
    )
    AND (
      (
        "contact.n" IS NULL
        OR COALESCE(CAST(TRY_CAST("contact.n" AS DECIMAL(15, 6)) AS DOUBLE) = "contact.n", FALSE)
      )
      AND (
        TRY_CAST("contact.n" AS DECIMAL(15, 6)) IS NULL
        OR COALESCE(
          TRY_CAST("contact.n" AS DECIMAL(15, 6)) >= CAST(0 AS DECIMAL(15, 6))
          AND TRY_CAST("contact.n" AS DECIMAL(15, 6)) <= CAST(4 AS DECIMAL(15, 6)),
          FALSE
        )
      )
    ) AS "~fit"
  FROM devices
), step_2 AS (
  SELECT
    *,
    NOT "~contact.x" = 'a' AS "~upper#a",
    "~contact.n" >= CAST(2.5 AS DECIMAL(15, 6)) AND "contact.p" AS "~upper#b"
  FROM step_1
), step_3 AS (
  SELECT
    *,
    "~upper#b" AND NOT "~upper#a" AS "~upper#b stands",
    CASE
      WHEN (
        "~upper#a" OR "~upper#b"
      ) IS NULL
      THEN NULL
      WHEN NOT (
        "~upper#a" OR "~upper#b"
      )
      THEN 'middle'
      WHEN NOT (
        COALESCE("~upper#b", TRUE) AND NOT COALESCE("~upper#a", FALSE)
      )
      THEN 'low'
      WHEN NOT COALESCE("~upper#a", TRUE)
      THEN 'high'
    END AS "~answer.upper"
  FROM step_2
), step_4 AS (
  SELECT
    *,
    CASE
      WHEN "~upper#a" IS NULL OR "~upper#b stands" IS NULL
      THEN NULL
      WHEN COALESCE("~upper#a", FALSE) AND NOT COALESCE("~upper#b stands", FALSE)
      THEN 'low'
      WHEN COALESCE("~upper#b stands", FALSE) AND NOT COALESCE("~upper#a", FALSE)
      THEN 'high'
      WHEN NOT (
        COALESCE("~upper#a", FALSE) OR COALESCE("~upper#b stands", FALSE)
      )
      THEN 'middle'
    END AS "~word",
    CASE
      WHEN NOT (
        COALESCE("~upper#b stands", FALSE) OR COALESCE("~upper#a", FALSE)
      )
      THEN ''
      WHEN COALESCE("~upper#b stands", FALSE) AND NOT COALESCE("~upper#a", FALSE)
      THEN 'upper#b'
      WHEN COALESCE("~upper#a", FALSE) AND NOT COALESCE("~upper#b stands", FALSE)
      THEN 'upper#a'
      ELSE SUBSTRING(
        CASE WHEN COALESCE("~upper#b stands", FALSE) THEN ', upper#b' ELSE '' END || CASE WHEN COALESCE("~upper#a", FALSE) THEN ', upper#a' ELSE '' END,
        3
      )
    END AS "~rules"
  FROM step_3
), step_5 AS (
  SELECT
    *,
    CASE
      WHEN NOT "~fit"
      THEN NULL
      WHEN "~word" IS NULL
      THEN NULL
      WHEN NOT COALESCE("~answer.upper" = "~word", FALSE)
      THEN NULL
      ELSE "~word"
    END AS "~settled"
  FROM step_4
)
SELECT
  "id" AS "id",
  "~settled" AS "ruling.outcome",
  CASE WHEN NOT "~settled" IS NULL THEN "~rules" END AS "ruling.rules",
  CASE WHEN NOT "~settled" IS NULL THEN 'columns' END AS "ruling.by",
  CASE
    WHEN "~settled" IS NULL
    THEN CASE
      WHEN "contact.x" IS NULL
      THEN '-'
      ELSE CAST(LENGTH(CAST("contact.x" AS TEXT)) AS TEXT) || ':' || CAST("contact.x" AS TEXT)
    END || CASE
      WHEN "contact.p" IS NULL
      THEN '-'
      ELSE CAST(LENGTH(CAST("contact.p" AS TEXT)) AS TEXT) || ':' || CAST("contact.p" AS TEXT)
    END || CASE
      WHEN "contact.n" IS NULL
      THEN '-'
      WHEN COALESCE(
        (
          "contact.n" IS NULL
          OR COALESCE(CAST(TRY_CAST("contact.n" AS DECIMAL(15, 6)) AS DOUBLE) = "contact.n", FALSE)
        )
        AND (
          TRY_CAST("contact.n" AS DECIMAL(15, 6)) IS NULL
          OR COALESCE(
            TRY_CAST("contact.n" AS DECIMAL(15, 6)) >= CAST(0 AS DECIMAL(15, 6))
            AND TRY_CAST("contact.n" AS DECIMAL(15, 6)) <= CAST(4 AS DECIMAL(15, 6)),
            FALSE
          )
        ),
        FALSE
      )
      THEN CASE
        WHEN TRY_CAST("contact.n" AS DECIMAL(15, 6)) IS NULL
        THEN '-'
        WHEN NOT TRY_CAST("contact.n" AS DECIMAL(15, 6)) >= CAST(2.5 AS DECIMAL(15, 6))
        THEN 's0'
        WHEN NOT TRY_CAST("contact.n" AS DECIMAL(15, 6)) >= CAST(2.500001 AS DECIMAL(15, 6))
        THEN 's1'
        ELSE 's2'
      END
      ELSE CAST(LENGTH(CAST("contact.n" AS TEXT)) AS TEXT) || ':' || CAST("contact.n" AS TEXT)
    END
  END AS "ruling.key"
FROM step_5
