//! Pixels of photos that are done with, to be written over by the next ones.
//!
//! The system hands out fresh memory page by page, and clears each as it is first touched: of tens of megabytes that takes a quarter of the time
//! that decoding them takes.

use super::{Photo, Pixels};
use std::sync::{Mutex, PoisonError};

/// Room for pixels, shared among the threads of a batch: no more of it than photos were in memory at once, since whoever opens a photo takes some first.
#[derive(Debug, Default)]
pub struct Spare(Mutex<Vec<Vec<u8>>>);

impl Spare {
    /// Takes the room of a photo that is no longer needed.
    pub fn keep(&self, photo: Photo) {
        if let Pixels::U8(codes) = photo.pixels {
            self.all().push(codes);
        }
    }

    /// So many zeros: whatever isn't written over is black, not another photo's.
    pub(super) fn zeros(&self, n: usize) -> Vec<u8> {
        match self.all().pop() {
            // Room that is much too large would be held for nothing.
            Some(mut codes) if (n..=2 * n).contains(&codes.capacity()) => {
                codes.clear();
                codes.resize(n, 0);
                codes
            }
            // The old goes before the new comes.
            other => {
                drop(other);
                vec![0; n]
            }
        }
    }

    /// Gives up the room of one photo, for one whose decoder brings its own.
    pub(super) fn give_up(&self) {
        drop(self.all().pop());
    }

    fn all(&self) -> std::sync::MutexGuard<'_, Vec<Vec<u8>>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_batch_of_any_kind_keeps_the_room_of_one_photo_a_thread() {
        let folder = tempfile::tempdir().unwrap();
        let picture = image::RgbImage::from_pixel(40, 30, image::Rgb([90, 80, 70]));
        let spare = Spare::default();
        for name in ["a.png", "b.jpg", "c.png", "d.png", "e.jpg", "f.jpg"] {
            let path = folder.path().join(name);
            picture.save(&path).unwrap();
            let photo = Photo::open_into(&path, &super::super::Options::default(), &spare);
            spare.keep(photo.unwrap());
            assert_eq!(spare.all().len(), 1, "{name}");
        }
    }

    #[test]
    fn room_is_used_again_where_it_fits_and_holds_nothing_of_before() {
        let spare = Spare::default();
        spare.all().push(vec![7; 100]);
        let of = |it: &Vec<u8>| it.as_ptr();
        let before = spare.all().last().map(of);
        let zeros = spare.zeros(90);
        assert_eq!((zeros.len(), Some(of(&zeros))), (90, before));
        assert!(zeros.iter().all(|it| *it == 0));
        // Too small, or much too large: it goes, and fresh room comes.
        for n in [101, 40] {
            spare.all().push(vec![7; 100]);
            let zeros = spare.zeros(n);
            assert!(zeros.len() == n && zeros.capacity() == n && zeros.iter().all(|it| *it == 0));
            assert!(spare.all().is_empty());
        }
    }
}
