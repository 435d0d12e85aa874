//! DNG files of the simulated sensor. Tags are read by the `tiff` crate; what lossless JPEG holds was read by two other libraries
//! (`tests/oracle/dng_files.py`), which no library of ours can.

mod colour;
mod files;
mod samples;
mod tags;
mod values;
