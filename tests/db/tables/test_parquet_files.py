from __future__ import annotations

import io

import duckdb
import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet
import pytest

from db.errors import BadInput
from db.tables.parquet_pages import NotReadable, described_columns, unpacked_bytes
from db.tables.text_tables import read_text_table

TABLE = pa.table(
    {
        "number": np.arange(3_000) * 1.5,
        "text": [f"x{place % 7}" for place in range(3_000)],
        "all different": [f"number {place}" for place in range(3_000)],
    }
)


def written(table: pa.Table, **settings: object) -> bytes:
    content = io.BytesIO()
    pyarrow.parquet.write_table(table, content, **settings)
    return content.getvalue()


@pytest.mark.parametrize(
    "settings",
    [
        {},
        {"compression": "zstd"},
        {"compression": "none", "data_page_version": "2.0"},
        {"data_page_size": 500, "write_page_checksum": True},
        {"row_group_size": 700, "use_dictionary": False},
        {"write_statistics": False, "store_schema": False},
    ],
    ids=str,
)
def test_pages_add_up_to_what_the_writer_says(settings: dict[str, object]) -> None:
    """The writer also counts the page headers, some 20 to 100 bytes each."""
    content = written(TABLE, **settings)
    metadata = pyarrow.parquet.ParquetFile(io.BytesIO(content)).metadata
    sizes = list(unpacked_bytes(content, metadata))
    said = sum(
        metadata.row_group(place).total_byte_size for place in range(metadata.num_row_groups)
    )
    assert said - 100 * len(sizes) <= sum(sizes) < said
    assert described_columns(content) == 3
    frame = read_text_table(content, "x.parquet").frame
    assert frame["text"].tolist() == TABLE["text"].to_pylist()


def test_the_pages_of_another_writer_are_followed(tmp_path) -> None:
    path = tmp_path / "x.parquet"
    duckdb.sql(
        "COPY (SELECT 'A' || range % 5 AS athlete, range AS value FROM range(5000)) "
        f"TO '{path}' (FORMAT parquet)"
    )
    metadata = pyarrow.parquet.ParquetFile(path).metadata
    assert sum(unpacked_bytes(path.read_bytes(), metadata)) > 5_000
    assert len(read_text_table(path).frame) == 5_000


def test_a_page_that_cannot_be_followed_is_not_read() -> None:
    content = written(TABLE)
    metadata = pyarrow.parquet.ParquetFile(io.BytesIO(content)).metadata
    with pytest.raises(NotReadable):
        list(unpacked_bytes(content[:4] + b"\x99" * 100 + content[104:], metadata))


@pytest.mark.parametrize(
    ("values", "texts"),
    [
        (pa.array([1, None], pa.int8()), ["1", ""]),
        (pa.array(["a", "b"], pa.string_view()), ["a", "b"]),
        (pa.array(["a", None]).dictionary_encode(), ["a", ""]),
        (pa.array([b"x" * 16, b"y" * 16], pa.binary(16)), ["x" * 16, "y" * 16]),
        (pa.array([0, 1], pa.date32()), ["1970-01-01", "1970-01-02"]),
        (pa.array([34_200, None], pa.time32("s")), ["09:30:00.000", ""]),
        (pa.array([1_500_000, None], pa.timestamp("us")), ["1970-01-01T00:00:01.500000", ""]),
        (pa.array([1_000_000, None], pa.timestamp("us")), ["1970-01-01T00:00:01", ""]),
        (
            pa.array([1_772_355_600, 1_782_363_600], pa.timestamp("s", "Europe/Berlin")),
            ["2026-03-01T10:00:00+01:00", "2026-06-25T07:00:00+02:00"],
        ),
        (pa.array([0, None], pa.timestamp("ms", "-05:30")), ["1969-12-31T18:30:00-05:30", ""]),
        (
            pa.array([1, None], pa.timestamp("ns", "UTC")),
            ["1970-01-01T00:00:00.000000001+00:00", ""],
        ),
    ],
    ids=str,
)
def test_values_of_every_plain_type_become_text(values: pa.Array, texts: list[str]) -> None:
    content = written(pa.table({"athlete": ["A", "B"], "cell": values}))
    assert read_text_table(content, "x.parquet").frame["cell"].tolist() == texts


def test_values_of_another_type_are_refused() -> None:
    content = written(pa.table({"cell": pa.array([b"x" * 100], pa.binary(100))}))
    with pytest.raises(BadInput, match="holds fixed_size_binary.100., which is neither text, nu"):
        read_text_table(content, "x.parquet")


def test_repeated_moments_are_each_written_out() -> None:
    moments = pd.Series(pd.date_range("2026-03-01T09:00", periods=3, freq="D")).repeat(4)
    content = io.BytesIO()
    pd.DataFrame({"started_at": moments}).to_parquet(content, index=False)
    read = read_text_table(content.getvalue(), "x.parquet").frame["started_at"]
    assert read.tolist() == [moment.isoformat() for moment in moments]
