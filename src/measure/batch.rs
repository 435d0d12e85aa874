//! Many photos at once.
//!
//! Takes jobs and a function that measures one; hands each result to the caller as it is ready, on the caller's thread. No
//! more photos are in memory at once than there are threads: the work *within* a photo is shared among the same threads, and
//! a thread that waits for such work may help with another photo, so the bound is kept by handing photos out one by one.

use super::{Job, Refusal};
use std::num::NonZeroUsize;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::mpsc;

/// Measures every job with `measure` on `threads` threads and calls `each` with the job's index and its result.
///
/// The order of the calls depends on the threads; nothing else does. A panic in `measure` is a defect of the program,
/// and costs that photo only. The first error of `each` ends the batch, after the photos in hand.
///
/// # Errors
///
/// What `each` gives, or that the threads can't be had.
pub fn run<T, E>(
    jobs: &[Job],
    threads: NonZeroUsize,
    measure: impl Fn(&Job) -> Result<T, Refusal> + Sync,
    mut each: impl FnMut(usize, Result<T, Refusal>) -> Result<(), E>,
) -> Result<(), E>
where
    T: Send,
    E: From<rayon::ThreadPoolBuildError>,
{
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(threads.get())
        .build()?;
    let (next, stop) = (AtomicUsize::new(0), AtomicBool::new(false));
    let hand_out = || {
        let index = next.fetch_add(1, Ordering::Relaxed);
        jobs.get(index)
            .filter(|_| !stop.load(Ordering::Relaxed))
            .map(|job| (index, job))
    };
    let (finished, results) = mpsc::channel();
    std::thread::scope(|scope| {
        for _ in 0..threads.get().min(jobs.len()) {
            let (finished, pool, measure, hand_out) =
                (finished.clone(), &pool, &measure, &hand_out);
            scope.spawn(move || {
                while let Some((index, job)) = hand_out() {
                    let result = pool.install(|| guarded(job, measure));
                    if finished.send((index, result)).is_err() {
                        break;
                    }
                }
            });
        }
        drop(finished);
        for (index, result) in results {
            if let Err(error) = each(index, result) {
                stop.store(true, Ordering::Relaxed);
                return Err(error);
            }
        }
        Ok(())
    })
}

/// A defect that one photo brings to light must not cost the others.
fn guarded<T>(job: &Job, measure: &impl Fn(&Job) -> Result<T, Refusal>) -> Result<T, Refusal> {
    catch_unwind(AssertUnwindSafe(|| measure(job))).unwrap_or_else(|_| {
        Err(Refusal {
            path: job.path.clone(),
            reason: "the program failed on this photo, which is a defect of the program".to_owned(),
            hint: "Please report it, with the photo and the message above.".to_owned(),
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::correct::Tone;
    use crate::record::{Dose, Settings};
    use std::sync::Mutex;

    fn jobs(n: usize) -> Vec<Job> {
        (0..n)
            .map(|i| Job {
                path: format!("{i}.jpg").into(),
                dose: Dose::default(),
                exposure: None,
                settings: Settings {
                    upright: false,
                    linear: false,
                    tone: Tone::Auto,
                    corners: None,
                    correction: None,
                    force_correction: false,
                    blank: None,
                    masked: None,
                },
            })
            .collect()
    }

    fn threads(n: usize) -> NonZeroUsize {
        NonZeroUsize::new(n).unwrap()
    }

    fn refusal(job: &Job) -> Refusal {
        Refusal {
            path: job.path.clone(),
            reason: "no card".into(),
            hint: String::new(),
        }
    }

    #[test]
    fn every_job_is_measured_once_whatever_the_threads() {
        for n in [1, 2, 5] {
            let mut seen = vec![0; 20];
            run(
                &jobs(20),
                threads(n),
                |job| Ok(job.path.clone()),
                |index, path| {
                    assert_eq!(path.unwrap(), jobs(20)[index].path);
                    seen[index] += 1;
                    anyhow::Ok(())
                },
            )
            .unwrap();
            assert_eq!(seen, [1; 20], "{n} threads");
        }
    }

    #[test]
    fn no_more_photos_in_hand_than_threads_even_when_they_share_work() {
        use rayon::prelude::*;
        let (in_hand, most) = (AtomicUsize::new(0), AtomicUsize::new(0));
        run(
            &jobs(16),
            threads(2),
            |_| {
                let now = in_hand.fetch_add(1, Ordering::SeqCst) + 1;
                most.fetch_max(now, Ordering::SeqCst);
                let sum: u64 = (0..200_000_u64).into_par_iter().map(|it| it % 7).sum();
                in_hand.fetch_sub(1, Ordering::SeqCst);
                Ok(sum)
            },
            |_, _| anyhow::Ok(()),
        )
        .unwrap();
        assert!(most.load(Ordering::SeqCst) <= 2);
    }

    #[test]
    fn a_refusal_and_a_panic_cost_one_photo_each() {
        let results = Mutex::new(vec![None; 4]);
        run(
            &jobs(4),
            threads(2),
            |job| match job.path.to_str() {
                Some("1.jpg") => Err(refusal(job)),
                Some("2.jpg") => panic!("a defect made for this test"),
                _ => Ok(()),
            },
            |index, result| {
                results.lock().unwrap()[index] = Some(result.map_err(|it| it.to_string()));
                anyhow::Ok(())
            },
        )
        .unwrap();
        let results = results.into_inner().unwrap();
        assert_eq!(results[0], Some(Ok(())));
        assert_eq!(results[1], Some(Err("1.jpg: no card".into())));
        assert!(
            matches!(&results[2], Some(Err(text)) if text.starts_with("2.jpg: the program failed"))
        );
        assert_eq!(results[3], Some(Ok(())));
    }

    #[test]
    fn an_error_of_the_caller_ends_the_batch() {
        let (measured, told) = (AtomicUsize::new(0), AtomicBool::new(false));
        let pause = || std::thread::sleep(std::time::Duration::from_millis(1));
        let error = run(
            &jobs(1000),
            threads(2),
            |_| {
                // All but the first few wait for the error, however seldom the caller's thread gets to run.
                if measured.fetch_add(1, Ordering::SeqCst) > 1 {
                    while !told.load(Ordering::SeqCst) {
                        pause();
                    }
                }
                pause();
                Ok(())
            },
            |_, _| {
                told.store(true, Ordering::SeqCst);
                Err(anyhow::anyhow!("the disk is full"))
            },
        )
        .unwrap_err();
        assert_eq!(error.to_string(), "the disk is full");
        assert!(measured.load(Ordering::SeqCst) < 1000);
    }
}
