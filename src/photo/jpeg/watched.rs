//! The bytes of a JPEG for its decoder, with an eye on how far the pixels' data were read.

use std::cell::Cell;
use zune_core::bytestream::{ZByteIoError, ZByteReaderTrait, ZCursor, ZSeekFrom};

/// A reader that notes where the last read of entropy-coded data ended.
///
/// The decoder takes those data by four bytes at a time, or, near markers, by single bytes without an error at the end.
/// It searches for markers and reads segments in other ways.
pub(super) struct Watched<'a> {
    inner: ZCursor<&'a [u8]>,
    data_read_to: &'a Cell<u64>,
}

impl<'a> Watched<'a> {
    pub(super) fn new(bytes: &'a [u8], data_read_to: &'a Cell<u64>) -> Self {
        Self {
            inner: ZCursor::new(bytes),
            data_read_to,
        }
    }

    #[inline(always)]
    fn note(&mut self) {
        if let Ok(position) = self.inner.z_position() {
            self.data_read_to.set(position);
        }
    }
}

impl ZByteReaderTrait for Watched<'_> {
    #[inline(always)]
    fn read_byte_no_error(&mut self) -> u8 {
        let byte = self.inner.read_byte_no_error();
        self.note();
        byte
    }

    #[inline(always)]
    fn read_exact_bytes(&mut self, buf: &mut [u8]) -> Result<(), ZByteIoError> {
        let done = self.inner.read_exact_bytes(buf);
        if buf.len() == 4 {
            self.note();
        }
        done
    }

    #[inline(always)]
    fn read_bytes(&mut self, buf: &mut [u8]) -> Result<usize, ZByteIoError> {
        self.inner.read_bytes(buf)
    }

    fn peek_bytes(&mut self, buf: &mut [u8]) -> Result<usize, ZByteIoError> {
        self.inner.peek_bytes(buf)
    }

    fn peek_exact_bytes(&mut self, buf: &mut [u8]) -> Result<(), ZByteIoError> {
        self.inner.peek_exact_bytes(buf)
    }

    #[inline(always)]
    fn z_seek(&mut self, from: ZSeekFrom) -> Result<u64, ZByteIoError> {
        self.inner.z_seek(from)
    }

    #[inline(always)]
    fn is_eof(&mut self) -> Result<bool, ZByteIoError> {
        self.inner.is_eof()
    }

    #[inline(always)]
    fn z_position(&mut self) -> Result<u64, ZByteIoError> {
        self.inner.z_position()
    }

    fn read_remaining(&mut self, sink: &mut Vec<u8>) -> Result<usize, ZByteIoError> {
        self.inner.read_remaining(sink)
    }
}
