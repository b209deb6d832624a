//! Rows as Parquet: columns with a type of their own, so many rows at a time.

use crate::failure::Failure;
use crate::plain;
use crate::rows::{Columns, given, not_done};
use parquet::basic::{LogicalType, Repetition, Type as Physical};
use parquet::data_type::{BoolType, ByteArray, ByteArrayType, DataType, DoubleType, Int64Type};
use parquet::errors::ParquetError;
use parquet::file::metadata::KeyValue;
use parquet::file::properties::WriterProperties;
use parquet::file::writer::{SerializedColumnWriter, SerializedFileWriter};
use parquet::schema::types::{Type, TypePtr};
use scenarios::output_file::Growing;
use scenarios::studies::stream::Found;
use scenarios::studies::sweep::Vary;
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Rows of a group: what is held of a file that is written.
const GROUP_ROWS: usize = 16_384;

/// What the file's own notes say, by which it is known again.
pub const MARK: &str = "shakedown.rows";

/// The values of a column in a group; where there is none it is null.
enum Column {
    Whole(Vec<Option<i64>>),
    Number(Vec<Option<f64>>),
    YesNo(Vec<Option<bool>>),
    Text(Vec<Option<ByteArray>>),
}

impl Column {
    /// The column of a varied field: of numbers, or of yes and no, where all its values are such.
    fn of(values: &[Value]) -> Self {
        let all = |is: fn(&Value) -> bool| values.iter().all(|value| value.is_null() || is(value));
        if all(Value::is_i64) {
            Column::Whole(Vec::new())
        } else if all(Value::is_number) {
            Column::Number(Vec::new())
        } else if all(Value::is_boolean) {
            Column::YesNo(Vec::new())
        } else {
            Column::Text(Vec::new())
        }
    }

    fn field(&self, name: &str) -> Result<TypePtr, ParquetError> {
        let (physical, logical) = match self {
            Column::Whole(_) => (Physical::INT64, None),
            Column::Number(_) => (Physical::DOUBLE, None),
            Column::YesNo(_) => (Physical::BOOLEAN, None),
            Column::Text(_) => (Physical::BYTE_ARRAY, Some(LogicalType::String)),
        };
        let field = Type::primitive_type_builder(name, physical).with_logical_type(logical);
        Ok(Arc::new(field.with_repetition(Repetition::OPTIONAL).build()?))
    }

    fn take(&mut self, value: &Value) {
        match self {
            Column::Whole(all) => all.push(value.as_i64()),
            Column::Number(all) => all.push(value.as_f64()),
            Column::YesNo(all) => all.push(value.as_bool()),
            Column::Text(all) => all.push(Some(text(&given(value)))),
        }
    }

    fn write(&mut self, mut writer: SerializedColumnWriter) -> Result<(), ParquetError> {
        match self {
            Column::Whole(all) => write::<Int64Type>(&mut writer, all)?,
            Column::Number(all) => write::<DoubleType>(&mut writer, all)?,
            Column::YesNo(all) => write::<BoolType>(&mut writer, all)?,
            Column::Text(all) => write::<ByteArrayType>(&mut writer, all)?,
        }
        writer.close()
    }
}

fn text(text: &str) -> ByteArray {
    plain::line(text).into_bytes().into()
}

/// Writes the values of a column, and forgets them.
fn write<T: DataType>(
    writer: &mut SerializedColumnWriter,
    all: &mut Vec<Option<T::T>>,
) -> Result<(), ParquetError> {
    let levels: Vec<i16> = all.iter().map(|value| value.is_some().into()).collect();
    let values: Vec<T::T> = all.drain(..).flatten().collect();
    writer.typed::<T>().write_batch(&values, Some(&levels), None).map(drop)
}

/// A file of rows.
pub struct ParquetFile {
    path: PathBuf,
    writer: SerializedFileWriter<Growing>,
    /// Those of the fields, then those of the figures.
    columns: Vec<Column>,
    problems: Column,
    rows: usize,
}

impl ParquetFile {
    /// Begins it.
    pub fn begin(file: Growing, columns: &Columns, varied: &[Vary]) -> Result<Self, Failure> {
        let figures = columns.figures.iter().map(|name| (*name, Column::Number(Vec::new())));
        let fields = columns.varied.iter().map(String::as_str);
        let fields = fields.zip(varied.iter().map(|vary| Column::of(&vary.values)));
        let (names, columns): (Vec<&str>, Vec<Column>) = fields.chain(figures).unzip();
        let problems = Column::Text(Vec::new());
        let known = names.iter().copied().zip(&columns).chain([("problem", &problems)]);
        let schema = known
            .map(|(name, column)| column.field(name))
            .collect::<Result<Vec<_>, _>>()
            .and_then(|fields| Type::group_type_builder("rows").with_fields(fields).build());
        let mark = KeyValue::new(MARK.to_owned(), env!("CARGO_PKG_VERSION").to_owned());
        let properties =
            WriterProperties::builder().set_key_value_metadata(Some(vec![mark])).build();
        let path = file.path().to_owned();
        let writer = schema.and_then(|schema| {
            SerializedFileWriter::new(file, Arc::new(schema), Arc::new(properties))
        });
        let writer = writer.map_err(|e| fault(&path, &e))?;
        Ok(Self { path, writer, columns, problems, rows: 0 })
    }

    /// Takes a row.
    pub fn take(
        &mut self,
        values: &[Value],
        outcome: &Result<Found, String>,
    ) -> Result<(), Failure> {
        let (fields, figures) = self.columns.split_at_mut(values.len());
        fields.iter_mut().zip(values).for_each(|(column, value)| column.take(value));
        let found = outcome.as_ref().ok();
        let figures = figures.iter_mut().enumerate();
        for (i, column) in figures {
            if let Column::Number(all) = column {
                let value = found.and_then(|found| found.values.get(i).copied().flatten());
                // What is never reached is no number.
                all.push(value.filter(|value| !value.is_nan()));
            }
        }
        let problem = match outcome {
            Ok(found) => not_done(found),
            Err(problem) => Some(problem.clone()),
        };
        if let Column::Text(all) = &mut self.problems {
            all.push(problem.map(|problem| text(&problem)));
        }
        self.rows += 1;
        if self.rows == GROUP_ROWS { self.write_group() } else { Ok(()) }
    }

    fn write_group(&mut self) -> Result<(), Failure> {
        self.rows = 0;
        let columns = self.columns.iter_mut().chain([&mut self.problems]);
        let outcome = self.writer.next_row_group().and_then(|mut group| {
            for column in columns {
                if let Some(writer) = group.next_column()? {
                    column.write(writer)?;
                }
            }
            group.close().map(drop)
        });
        outcome.map_err(|e| fault(&self.path, &e))
    }

    /// Gives it its name.
    pub fn finish(mut self) -> Result<(), Failure> {
        if self.rows > 0 {
            self.write_group()?;
        }
        let file = self.writer.into_inner().map_err(|e| fault(&self.path, &e))?;
        Ok(file.finish()?)
    }
}

/// What went wrong with the file.
fn fault(path: &Path, e: &ParquetError) -> Failure {
    let problem = match e {
        ParquetError::External(inner) => inner.to_string(),
        other => other.to_string(),
    };
    Failure::Input(scenarios::Error::File { file: path.display().to_string(), problem })
}
