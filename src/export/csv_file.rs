//! [`csv_file`]: a table for a spreadsheet.

use super::{ExportError, OutFile};

/// The file `name`: a row of titles, then the rows.
pub(super) fn csv_file<const COLUMNS: usize>(
    name: &'static str,
    header: [&str; COLUMNS],
    rows: impl IntoIterator<Item = [String; COLUMNS]>,
) -> Result<OutFile, ExportError> {
    let failed = |error: csv::Error| ExportError::new(name, error);
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(header).map_err(failed)?;
    for row in rows {
        writer.write_record(row).map_err(failed)?;
    }
    let bytes = writer.into_inner();
    let bytes = bytes.map_err(|error| ExportError::new(name, error))?;
    Ok(OutFile::new(name, bytes))
}

/// A number to thousandths, never −0.
pub(super) fn thousandths(value: f64) -> String {
    format!("{:.3}", (value * 1000.0).round() / 1000.0 + 0.0)
}
