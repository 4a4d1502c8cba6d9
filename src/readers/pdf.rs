//! Not read yet.

use super::{ReadError, ReadOptions, ReadOutput};

/// Says that the format is not read yet.
///
/// # Errors
///
/// Always `unsupported-yet`.
pub fn read(bytes: &[u8], options: &ReadOptions) -> Result<ReadOutput, ReadError> {
    let _ = (bytes, options);
    Err(ReadError::new("unsupported-yet", "pdf files are not read yet; save the report as text or as a workbook"))
}
