//! scratch
use strutsweep::*;
use strutsweep::space::Point;
#[test]
fn spatial() {
    let p = |x: f64, y: f64, z: f64| Point::new(1000.0 * x, 1000.0 * y, 1000.0 * z);
    let pts = HardPoints {
        arm_front: p(0.15, 0.12, 0.29), arm_rear: p(-0.15, 0.12, 0.29), ball_joint: p(0.0, 0.57, 0.29),
        strut_top: p(-0.06, 0.41, 0.83), strut_low: p(0.0, 0.57, 0.29), strut_clamp: None, bearing_axis: None,
        tie_inner: p(-0.13, 0.14, 0.31), tie_outer: p(-0.13, 0.55, 0.32), wheel_centre: p(0.0, 0.6877483468, 0.3171169102),
        wheel_radius_mm: 300.0, camber_deg: 0.0, toe_deg: 0.0, rack_direction: corner::RACK_ACROSS };
    let c = Corner::new("s", pts).unwrap();
    for (tr, rk) in [(-60.0, 0.0), (20.0, 0.0), (60.0, 0.0), (0.0, 20.0), (0.0, 40.0), (0.0, -40.0)] {
        let pose = c.solve(&Setting::default(), &Motion { travel_mm: tr, rack_mm: rk }, TravelAt::Hub).unwrap();
        println!("{tr} {rk}: {:?} {:?}", pose.figures.readings, pose.place(Place::WheelCentre));
    }
    for name in ["hillclimb_saloon", "gravel_hatch"] {
        let car = demo::car(name).unwrap();
        for (set, at) in [(0.0, TravelAt::Ground), (10.0, TravelAt::Ground), (10.0, TravelAt::Strut)] {
            let pose = car.left.solve(&Setting { mount_in_mm: set, ..Setting::default() }, &Motion::default(), at).unwrap();
            for r in Reading::ALL { print!("{}={:.4} ", r.name(), pose.reading(r)); }
            println!("\n {:?}", pose.place(Place::ContactCentre));
        }
        println!("{:?}", car.left.solve(&Setting::default(), &Motion { travel_mm: 500.0, rack_mm: 0.0 }, TravelAt::Ground).unwrap_err());
        println!("{:?}", car.left.solve(&Setting::default(), &Motion { travel_mm: -500.0, rack_mm: 0.0 }, TravelAt::Ground).unwrap_err());
        println!("{:?}", car.left.solve(&Setting::default(), &Motion { travel_mm: 0.0, rack_mm: 300.0 }, TravelAt::Ground));
        println!("{:?}", car.left.solve(&Setting::default(), &Motion { travel_mm: 0.0, rack_mm: -300.0 }, TravelAt::Ground));
        println!("{:?}", car.left.solve(&Setting { tie_rod_mm: 200.0, ..Setting::default() }, &Motion::default(), TravelAt::Ground).unwrap_err());
    }
    let s = file::to_toml(&demo::car("gravel_hatch").unwrap());
    println!("{s}");
    assert_eq!(file::from_toml(&s).unwrap(), demo::car("gravel_hatch").unwrap());
    let t = std::time::Instant::now();
    let car = demo::car("gravel_hatch").unwrap();
    let mut sw = Sweep::new(&car.left, &[41, 101, 101], TravelAt::Ground).unwrap();
    sw.input("travel", &ndarray::Array::linspace(-60.0, 60.0, 41).into_shape_with_order((41, 1, 1)).unwrap().into_dyn().view()).unwrap();
    sw.input("mount_in", &ndarray::Array::linspace(-20.0, 20.0, 101).into_shape_with_order((1, 101, 1)).unwrap().into_dyn().view()).unwrap();
    sw.input("mount_back", &ndarray::Array::linspace(-10.0, 10.0, 101).into_shape_with_order((1, 1, 101)).unwrap().into_dyn().view()).unwrap();
    let q: Vec<Quantity> = Reading::ALL.into_iter().map(Quantity::Reading).collect();
    let w = Watch::default();
    let out = sw.run(&q, 0, &w).unwrap();
    println!("{:?} {} {}", t.elapsed(), out.status.iter().filter(|s| **s != 0).count(), out.columns[0][1000]);
}
