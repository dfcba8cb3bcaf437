// A matte surface under two lights that stand beside the eye.

struct Frame {
    view: mat4x4<f32>,
    projection: mat4x4<f32>,
    // Taken away where dot(plane.xyz, place) > plane.w.
    plane: vec4<f32>,
    // Where all is seen from along one direction: 1, else 0.
    parallel: vec4<f32>,
    // Colors from no room to plenty.
    heat: array<vec4<f32>, 5>,
}

struct Look {
    color: vec4<f32>,
    // x: colored by its room; y: cut by the plane; z: closed, so that its back is its inside.
    how: vec4<f32>,
}

@group(0) @binding(0) var<uniform> frame: Frame;
@group(1) @binding(0) var<uniform> look: Look;

struct Corner {
    @location(0) place: vec3<f32>,
    @location(1) normal: vec3<f32>,
    @location(2) part: vec2<f32>,
}

struct Seen {
    @builtin(position) clip: vec4<f32>,
    @location(0) place: vec3<f32>,
    @location(1) normal: vec3<f32>,
    @location(2) part: f32,
    @location(3) from_eye: vec3<f32>,
}

@vertex
fn corner(corner: Corner) -> Seen {
    let seen = frame.view * vec4<f32>(corner.place, 1.0);
    var out: Seen;
    out.clip = frame.projection * seen;
    out.place = corner.place;
    out.normal = (frame.view * vec4<f32>(corner.normal, 0.0)).xyz;
    out.part = corner.part.x;
    out.from_eye = seen.xyz;
    return out;
}

@fragment
fn paint(in: Seen, @builtin(front_facing) is_front: bool) -> @location(0) vec4<f32> {
    if (look.how.y > 0.5 && dot(frame.plane.xyz, in.place) > frame.plane.w) {
        discard;
    }
    // Through the plane one looks into the wall itself: that is where it is cut.
    if (look.how.z > 0.5 && !is_front) {
        return vec4<f32>(look.color.rgb * 0.42, look.color.a);
    }
    var color = look.color.rgb;
    if (look.how.x > 0.5) {
        let at = clamp(in.part, 0.0, 1.0) * 4.0;
        let step = u32(min(floor(at), 3.0));
        color = mix(frame.heat[step].rgb, frame.heat[step + 1u].rgb, at - f32(step));
    }
    var normal = normalize(in.normal);
    let to_eye = mix(normalize(-in.from_eye), vec3<f32>(0.0, 0.0, 1.0), frame.parallel.x);
    if (dot(normal, to_eye) < 0.0) {
        normal = -normal;
    }
    let key = max(dot(normal, normalize(vec3<f32>(-0.5, 0.8, 0.9))), 0.0);
    let fill = max(dot(normal, normalize(vec3<f32>(0.9, -0.3, 0.5))), 0.0);
    return vec4<f32>(color * (0.30 + 0.72 * key + 0.16 * fill), look.color.a);
}
