//! Files in one ZIP. The same files give the same bytes: there is no time in it.

use std::io::Cursor;
use std::io::Write;

use zip::CompressionMethod;
use zip::DateTime;
use zip::ZipWriter;
use zip::result::ZipError;
use zip::write::SimpleFileOptions;

/// Packs files, in their order.
///
/// # Errors
/// [`ZipError`] where they cannot be packed: two have one name, say.
pub fn write_zip(files: &[(String, Vec<u8>)]) -> Result<Vec<u8>, ZipError> {
    let mut packed = ZipWriter::new(Cursor::new(Vec::new()));
    let options = SimpleFileOptions::default()
        .compression_method(CompressionMethod::Deflated)
        .last_modified_time(DateTime::default());
    for (name, content) in files {
        packed.start_file(name.as_str(), options)?;
        packed.write_all(content)?;
    }
    Ok(packed.finish()?.into_inner())
}
