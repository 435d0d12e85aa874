fn try_it(t: &Task<'_>) -> Result<(usize, Vec<(Vec<String>, Vec<f64>, f64)>), SearchError> { let f = search(t)?; Ok((f.alike, f.groups.iter().flatten().map(|r| (r.parts.iter().map(|p| p.pigment.clone()).collect(), r.parts.iter().map(|p| p.load).collect(), r.delta_e)).collect())) }
//X::print_stdout, reason = "a command that prints its table")]
#[path = "../tests/tinted/mod.rs"]
#[allow(dead_code, reason = "x")]
mod tinted;
use masstone::colour::{Lab, Matrix, difference::delta_e_2000 as de};
use masstone::mix::search::*;
use masstone::mix::*;
use masstone::plan::Balance;
use std::time::Instant;
use tinted::Numbers;

fn task<'a>(model: &'a Model, candidates: &'a [Candidate], wanted: Lab) -> Task<'a> {
    Task { model, aged: None, wanted, covariance: Matrix::zeros(), ground: "larch", g_per_m2: 200.0, candidates, mixtures: &[], coating_per_kg: Some(20.0),
        batch_g: 1000.0, balance: Balance::new(0.01, None).unwrap(), most_pigments: 3, base: None, in_stock: false, allow_untested: false, allow_beyond: false, order: Order::Nearest, count: 20 }
}
/// grid then Nelder-Mead
fn truth(model: &Model, c: &[Candidate], least: f64, wanted: Lab) -> (f64, Vec<f64>) {
    let n = c.len();
    let f = |x: &[f64]| -> f64 {
        let mut s = 0.0;
        for (x, c) in x.iter().zip(c) { if *x < least { return 1e3 + (least - x) } s += x / c.limit.unwrap(); }
        if s > 1.0 { return 1e3 + s; }
        let coat = Coat { pigments: x.iter().zip(c).map(|(x, c)| Load { pigment: c.id.clone(), load: *x }).collect(), g_per_m2: 200.0, ground: "larch".into() };
        de(model.colour(&coat).unwrap(), wanted)
    };
    // log grid
    let g = 12;
    let axis: Vec<Vec<f64>> = c.iter().map(|c| (0..g).map(|i| { let t = f64::from(i) / f64::from(g - 1); least * (c.limit.unwrap() * 0.999 / least).powf(t) }).collect()).collect();
    let mut all: Vec<(f64, Vec<f64>)> = Vec::new();
    for i in 0..(g as usize).pow(n as u32) {
        let mut r = i; let x: Vec<f64> = (0..n).map(|a| { let v = axis[a][r % g as usize]; r /= g as usize; v }).collect();
        all.push((f(&x), x));
    }
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut best = all[0].clone();
    for s in [0, 1, 3, 8] {
        if s >= all.len() { break; }
        for round in 0..2 {
        let x0 = if round == 0 { all[s].1.clone() } else { best.1.clone() };
        let mut sim: Vec<(f64, Vec<f64>)> = vec![(f(&x0), x0.clone())];
        for i in 0..n { let mut x = x0.clone(); x[i] = (x[i] * 0.8).max(least); if x[i] == x0[i] { x[i] *= 1.2; } sim.push((f(&x), x)); }
        for _ in 0..250 {
            sim.sort_by(|a, b| a.0.total_cmp(&b.0));
            let cen: Vec<f64> = (0..n).map(|i| sim[..n].iter().map(|s| s.1[i]).sum::<f64>() / n as f64).collect();
            let mv = |t: f64| -> (f64, Vec<f64>) { let x: Vec<f64> = (0..n).map(|i| cen[i] + t * (sim[n].1[i] - cen[i])).collect(); (f(&x), x) };
            let r = mv(-1.0);
            if r.0 < sim[0].0 { let e = mv(-2.0); sim[n] = if e.0 < r.0 { e } else { r }; }
            else if r.0 < sim[n - 1].0 { sim[n] = r; }
            else { let k = if r.0 < sim[n].0 { mv(-0.5) } else { mv(0.5) };
                if k.0 < sim[n].0.min(r.0) { sim[n] = k; }
                else { let b = sim[0].1.clone(); for s in &mut sim[1..] { for i in 0..n { s.1[i] = 0.5 * (s.1[i] + b[i]); } s.0 = f(&s.1); } } }
        }
        sim.sort_by(|a, b| a.0.total_cmp(&b.0));
        if sim[0].0 < best.0 { best = sim[0].clone(); }
        }
    }
    best
}
fn main() {
    let (model, candidates) = tinted::library(60, 1);
    let mut n = Numbers::new(77);
    println!("threads {}", rayon::current_num_threads());
    for i in 0..10 {
        let wanted = if i % 2 == 0 { Lab::new(n.between(25.0, 75.0), n.between(-15.0, 25.0), n.between(0.0, 35.0)) } else { Lab::new(n.between(25.0, 75.0), n.between(-45.0, 45.0), n.between(-45.0, 60.0)) };
        let t = Instant::now();
        match try_it(&task(&model, &candidates, wanted)) {
            Ok((alike, mut all)) => { println!("{alike} alike"); all.sort_by(|a, b| a.2.total_cmp(&b.2)); println!("{wanted:?} {:?} {:?} {:?} -- below .05 {}", t.elapsed(), all[0], all[1], all.iter().filter(|it| it.2 < 0.05).count()); }
            Err(e) => println!("{e}"),
        }
    }
    let trials: usize = std::env::args().filter_map(|it| it.parse().ok()).next().unwrap_or(300);
    let (mut bad, mut worst) = (0, 0.0_f64);
    let mut by = [0; 3];
    for _ in 0..trials {
        let three: Vec<Candidate> = loop { let p: Vec<usize> = (0..3).map(|_| n.place(60)).collect(); if p[0] != p[1] && p[1] != p[2] && p[0] != p[2] { break p.iter().map(|i| candidates[*i].clone()).collect() } };
        let w: Vec<f64> = three.iter().map(|_| n.between(0.0, 1.0)).collect();
        // targets: near reachable ones
        let sc = n.ratio(0.02, 1.0) / w.iter().sum::<f64>();
        let coat = Coat { pigments: three.iter().zip(&w).map(|(c, w)| Load { pigment: c.id.clone(), load: w * sc * c.limit.unwrap() }).collect(), g_per_m2: 200.0, ground: "larch".into() };
        let at = model.colour(&coat).unwrap();
        let d = if n.between(0.0, 1.0) < 0.3 { 0.0 } else { n.ratio(1.0, 40.0) };
        let wanted = Lab::new((at.l + d * n.between(-1.0, 1.0)).clamp(5.0, 90.0), at.a + d * n.between(-1.0, 1.0), at.b + d * n.between(-1.0, 1.0));
        let Ok((_, mut all)) = try_it(&task(&model, &three, wanted)) else { continue };
        all.sort_by(|a, b| a.2.total_cmp(&b.2));
        let tr = truth(&model, &three, 0.02, wanted);
        let gap = all[0].2 - tr.0;
        if gap > 0.02 { bad += 1; by[0] += 1; println!("gap {gap:.3}: ours {:?} truth {:?} {:?} {wanted:?}", all[0], tr, three.iter().map(|c| (c.id.clone(), c.limit)).collect::<Vec<_>>()); }
        worst = worst.max(gap);
    }
    println!("bad {bad} of {trials}, worst {worst}");
}
