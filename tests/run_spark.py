"""Runs queries of an audit in Spark on this machine: `python run_spark.py job.json`.

By the Python of an environment that has pyspark, and nothing of this project. The results are
written beside the job.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

from pyspark.sql import SparkSession

SETTINGS = {
    "spark.ui.enabled": "false",
    "spark.driver.memory": "6g",
    "spark.driver.bindAddress": "127.0.0.1",
    "spark.driver.host": "127.0.0.1",
    "spark.driver.extraJavaOptions": "-Xss64m",
    "spark.sql.shuffle.partitions": "1",
    # What the page says of Spark: many small joins, and long expressions that are not compiled.
    "spark.buffer.pageSize": "2m",
    "spark.sql.adaptive.enabled": "false",
    "spark.sql.codegen.wholeStage": "false",
    "spark.sql.codegen.factoryMode": "NO_CODEGEN",
}


def main(file: str) -> None:
    job = json.loads(Path(file).read_text("utf-8"))
    builder = SparkSession.builder.master("local[1]")
    for name, value in SETTINGS.items():
        builder = builder.config(name, value)
    spark = builder.getOrCreate()
    spark.sparkContext.setLogLevel("OFF")
    spark.read.parquet(job["orders"]).createOrReplaceTempView("orders")
    spark.read.parquet(job["texts"]).createOrReplaceTempView("read_texts")
    results = [run(spark, **each) for each in job["queries"]]
    Path(file).with_name("results.json").write_text(json.dumps(results), "utf-8")
    spark.stop()


def run(spark: SparkSession, query: str, ansi: bool) -> object:
    spark.conf.set("spark.sql.ansi.enabled", str(ansi).lower())
    try:
        found = spark.sql(Path(query).read_text("utf-8")).collect()
    except Exception as error:
        return str(error).splitlines()[0]
    return [row.asDict() for row in found]


main(sys.argv[1])
