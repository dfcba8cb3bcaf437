use runwright::{route::*, run::*, tube::*, units::*, geometry::*};
fn main(){
 let tube=Tube::new(Length::from_mm(50.8),Length::from_mm(1.65),"x").unwrap();
 let p=|n:&str,c:[f64;3],d:[f64;3]| Port{straight:Length::from_mm(12.7),..Port::new(n,Point::from(c),Direction::new_normalize(Vector::from(d)))};
 let t=Task::new(tube,p("a",[0.;3],[0.1132,-0.5051,0.8556]),p("b",[-226.3,-92.2,394.1],[-0.4707,-0.1112,-0.8753]));
 for e in [Effort::Normal,Effort::Thorough]{
  let s=solve_with(&t,&Control{effort:e,..Control::default()}).unwrap();
  println!("{:?} {} {:?}",e,s.searches,s.stop);
  for (c,r) in std::iter::once((&s.best,&s.reasons)).chain(s.alternatives.iter().map(|(c,r)|(c,r))) {
    println!("{:.4} {:?} {:?} setups {}", c.cost.money, c.route.bends.iter().map(|b|b.joints()).collect::<Vec<_>>(), r, c.cost.setups);
  }
 }
}
