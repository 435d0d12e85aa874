//! Standard output, whose reader may stop reading.

use super::failure::Failure;
use std::io::{self, BufWriter, Write};

/// Writes to standard output. A reader that closes the pipe has what it wants: that is success.
pub(super) fn write(write: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> Result<(), Failure> {
    let mut out = BufWriter::new(io::stdout().lock());
    match write(&mut out).and_then(|()| out.flush()) {
        Ok(()) => Ok(()),
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => {
            // What is still buffered must not be tried again when the buffer is dropped.
            let _ = out.into_parts();
            Ok(())
        }
        Err(error) => {
            let _ = out.into_parts();
            Err(Failure::work(
                anyhow::Error::new(error).context("can't write to standard output"),
                "Write to a file with --out FILE.",
            ))
        }
    }
}
