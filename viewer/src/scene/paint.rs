//! [`Paint`]: how surfaces are drawn: matte, in few steps, cut open by a plane.
//!
//! The drawing library's own surfaces have metal, glass and mirrors, which take software
//! rendering most of a second for a window; these take a tenth of that.

use crate::palette::{self, Color};
use kiss3d::camera::Camera3d;
use kiss3d::context::Context;
use kiss3d::glamx::{Mat4, Pose3, Vec3};
use kiss3d::light::LightCollection;
use kiss3d::resource::vertex_index::VERTEX_INDEX_FORMAT;
use kiss3d::resource::{
    DynamicUniformBuffer, GpuData, GpuMesh3d, Material3d, MaterialManager3d, PipelineCache,
    RenderContext, RenderPhase, multisample_state,
};
use kiss3d::scene::{InstancesBuffer3d, ObjectData3d};
use std::any::Any;
use std::cell::{Cell, RefCell};
use std::rc::Rc;

/// Its name among the drawing library's materials.
pub const NAME: &str = "matte";

/// Rows of four numbers: two matrices, the plane, the projection's kind, five colors.
const FRAME_ROWS: usize = 15;

/// What is the same for all surfaces of a picture, beside the camera.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Shared {
    /// What lies beyond this plane (a, b, c, d), where a·x + b·y + c·z > d, is taken away.
    pub plane: Option<[f32; 4]>,
    /// Whether lines of sight are parallel.
    pub is_parallel: bool,
}

/// How one surface is drawn, beside its color.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct How {
    /// Colored by the room at its corners.
    pub is_heat: bool,
    /// Cut open by the plane.
    pub is_cut: bool,
    /// Closed all round, its faces turned out: where its back shows it is cut through.
    pub is_closed: bool,
}

/// A color as the drawing library wants it: linear, since it gives the screen its gamma
/// itself.
pub fn linear(Color(r, g, b): Color) -> [f32; 3] {
    [r, g, b].map(|c| (f32::from(c) / 255.0).powf(2.2))
}

/// Matte surfaces.
pub struct Paint {
    shared: Rc<Cell<Shared>>,
    opaque: PipelineCache,
    seen_through: PipelineCache,
    frame: wgpu::Buffer,
    frame_group: wgpu::BindGroup,
    looks: DynamicUniformBuffer<[[f32; 4]; 2]>,
    look_layout: wgpu::BindGroupLayout,
    look_group: wgpu::BindGroup,
    is_fresh: bool,
}

/// Where a surface's look stands in the buffer of all.
#[derive(Default)]
struct Place(Option<u32>);

impl GpuData for Place {
    fn as_any(&self) -> &dyn Any {
        self
    }

    fn as_any_mut(&mut self) -> &mut dyn Any {
        self
    }
}

impl Paint {
    /// Makes it known by its name; what is put into the cell counts for all surfaces.
    pub fn register() -> Rc<Cell<Shared>> {
        let shared = Rc::new(Cell::new(Shared::default()));
        let paint: Box<dyn Material3d> = Box::new(Self::new(Rc::clone(&shared)));
        let paint = Rc::new(RefCell::new(paint));
        MaterialManager3d::get_global_manager(|materials| materials.add(Rc::clone(&paint), NAME));
        shared
    }

    fn new(shared: Rc<Cell<Shared>>) -> Self {
        let context = Context::get();
        let frame_layout = layout(&context, false);
        let look_layout = layout(&context, true);
        let frame = context.create_buffer(&wgpu::BufferDescriptor {
            label: Some("matte frame"),
            size: (FRAME_ROWS * 16) as u64,
            usage: wgpu::BufferUsages::UNIFORM | wgpu::BufferUsages::COPY_DST,
            mapped_at_creation: false,
        });
        let frame_group = context.create_bind_group(&wgpu::BindGroupDescriptor {
            label: Some("matte frame"),
            layout: &frame_layout,
            entries: &[wgpu::BindGroupEntry {
                binding: 0,
                resource: frame.as_entire_binding(),
            }],
        });
        let looks = DynamicUniformBuffer::new("matte looks");
        let look_group = group(&context, &look_layout, &looks);
        Self {
            shared,
            opaque: pipelines([&frame_layout, &look_layout], true),
            seen_through: pipelines([&frame_layout, &look_layout], false),
            frame,
            frame_group,
            looks,
            look_layout,
            look_group,
            is_fresh: true,
        }
    }

    fn write_frame(&self, pass: usize, camera: &dyn Camera3d) {
        let (view, projection) = camera.view_transform_pair(pass);
        let shared = self.shared.get();
        let mut rows: Vec<[f32; 4]> = Vec::with_capacity(FRAME_ROWS);
        rows.extend(Mat4::to_cols_array_2d(&view.to_mat4()));
        rows.extend(projection.to_cols_array_2d());
        rows.push(shared.plane.unwrap_or([0.0; 4]));
        rows.push([if shared.is_parallel { 1.0 } else { 0.0 }; 4]);
        rows.extend(palette::HEAT.map(|color| {
            let [r, g, b] = linear(color);
            [r, g, b, 1.0]
        }));
        let bytes: Vec<u8> = rows
            .iter()
            .flatten()
            .flat_map(|number| number.to_ne_bytes())
            .collect();
        Context::get().write_buffer(&self.frame, 0, &bytes);
    }
}

fn layout(context: &Context, is_dynamic: bool) -> wgpu::BindGroupLayout {
    context.create_bind_group_layout(&wgpu::BindGroupLayoutDescriptor {
        label: Some("matte"),
        entries: &[wgpu::BindGroupLayoutEntry {
            binding: 0,
            visibility: wgpu::ShaderStages::VERTEX_FRAGMENT,
            ty: wgpu::BindingType::Buffer {
                ty: wgpu::BufferBindingType::Uniform,
                has_dynamic_offset: is_dynamic,
                min_binding_size: None,
            },
            count: None,
        }],
    })
}

fn group(
    context: &Context,
    layout: &wgpu::BindGroupLayout,
    looks: &DynamicUniformBuffer<[[f32; 4]; 2]>,
) -> wgpu::BindGroup {
    context.create_bind_group(&wgpu::BindGroupDescriptor {
        label: Some("matte looks"),
        layout,
        entries: &[wgpu::BindGroupEntry {
            binding: 0,
            resource: wgpu::BindingResource::Buffer(wgpu::BufferBinding {
                buffer: looks.buffer(),
                offset: 0,
                size: std::num::NonZeroU64::new(looks.aligned_size()),
            }),
        }],
    })
}

fn pipelines(layouts: [&wgpu::BindGroupLayout; 2], is_opaque: bool) -> PipelineCache {
    let context = Context::get();
    let layout = context.create_pipeline_layout(&wgpu::PipelineLayoutDescriptor {
        label: Some("matte"),
        bind_group_layouts: &[Some(layouts[0]), Some(layouts[1])],
        immediate_size: 0,
    });
    let shader = context.create_shader_module(Some("matte"), include_str!("paint.wgsl"));
    PipelineCache::new(move |samples| {
        let attributes = [0, 1, 2].map(|location| {
            [wgpu::VertexAttribute {
                offset: 0,
                shader_location: location,
                format: if location < 2 {
                    wgpu::VertexFormat::Float32x3
                } else {
                    wgpu::VertexFormat::Float32x2
                },
            }]
        });
        let buffer = |i: usize| {
            Some(wgpu::VertexBufferLayout {
                array_stride: if i < 2 { 12 } else { 8 },
                step_mode: wgpu::VertexStepMode::Vertex,
                attributes: &attributes[i],
            })
        };
        let blend = if is_opaque {
            wgpu::BlendState::REPLACE
        } else {
            wgpu::BlendState::ALPHA_BLENDING
        };
        Context::get().create_render_pipeline(&wgpu::RenderPipelineDescriptor {
            label: Some("matte"),
            layout: Some(&layout),
            vertex: wgpu::VertexState {
                module: &shader,
                entry_point: Some("corner"),
                buffers: &[buffer(0), buffer(1), buffer(2)],
                compilation_options: wgpu::PipelineCompilationOptions::default(),
            },
            fragment: Some(wgpu::FragmentState {
                module: &shader,
                entry_point: Some("paint"),
                targets: &[Some(wgpu::ColorTargetState {
                    format: Context::render_format(),
                    blend: Some(blend),
                    write_mask: wgpu::ColorWrites::ALL,
                })],
                compilation_options: wgpu::PipelineCompilationOptions::default(),
            }),
            // Scans face any way, and what is cut open shows its inside.
            primitive: wgpu::PrimitiveState {
                cull_mode: None,
                ..wgpu::PrimitiveState::default()
            },
            depth_stencil: Some(wgpu::DepthStencilState {
                format: Context::depth_format(),
                // What is seen through hides nothing.
                depth_write_enabled: Some(is_opaque),
                depth_compare: Some(wgpu::CompareFunction::Less),
                stencil: wgpu::StencilState::default(),
                bias: wgpu::DepthBiasState::default(),
            }),
            multisample: multisample_state(samples),
            multiview_mask: None,
            cache: None,
        })
    })
}

impl Material3d for Paint {
    fn create_gpu_data(&self) -> Box<dyn GpuData> {
        Box::new(Place::default())
    }

    fn begin_frame(&mut self) {
        self.looks.clear();
        self.is_fresh = true;
    }

    fn prepare(
        &mut self,
        pass: usize,
        _: Pose3,
        _: Vec3,
        camera: &mut dyn Camera3d,
        _: &LightCollection,
        data: &ObjectData3d,
        place: &mut dyn GpuData,
        _: u32,
        _: u32,
    ) {
        if std::mem::take(&mut self.is_fresh) {
            self.write_frame(pass, camera);
        }
        let color = data.color();
        let how = data
            .user_data()
            .downcast_ref::<How>()
            .copied()
            .unwrap_or_default();
        let is_cut = how.is_cut && self.shared.get().plane.is_some();
        let flag = |is: bool| if is { 1.0 } else { 0.0 };
        let look = [
            [color.r, color.g, color.b, color.a],
            [
                flag(how.is_heat),
                flag(is_cut),
                flag(is_cut && how.is_closed),
                0.0,
            ],
        ];
        if let Some(place) = place.as_any_mut().downcast_mut::<Place>() {
            place.0 = Some(self.looks.push(&look));
        }
    }

    fn flush(&mut self) {
        if self.looks.flush() {
            self.look_group = group(&Context::get(), &self.look_layout, &self.looks);
        }
    }

    fn render(
        &mut self,
        _: usize,
        _: Pose3,
        _: Vec3,
        _: &mut dyn Camera3d,
        _: &LightCollection,
        data: &ObjectData3d,
        mesh: &mut GpuMesh3d,
        _: &mut InstancesBuffer3d,
        place: &mut dyn GpuData,
        pass: &mut wgpu::RenderPass<'_>,
        context: &RenderContext,
    ) {
        let place = place
            .as_any_mut()
            .downcast_mut::<Place>()
            .and_then(|place| place.0);
        let (Some(place), RenderPhase::Opaque) = (place, context.phase) else {
            return;
        };
        // A lock is poisoned only where another thread broke off with it; there is none.
        let (Ok(mut points), Ok(mut normals), Ok(mut parts), Ok(mut faces)) = (
            mesh.coords().write(),
            mesh.normals().write(),
            mesh.uvs().write(),
            mesh.faces().write(),
        ) else {
            return;
        };
        points.load_to_gpu();
        normals.load_to_gpu();
        parts.load_to_gpu();
        faces.load_to_gpu();
        let buffers = (
            points.buffer(),
            normals.buffer(),
            parts.buffer(),
            faces.buffer(),
        );
        let (Some(points), Some(normals), Some(parts), Some(faces)) = buffers else {
            return;
        };
        let pipelines = if data.color().a < 1.0 {
            &self.seen_through
        } else {
            &self.opaque
        };
        pass.set_pipeline(&pipelines.get(context.sample_count));
        pass.set_bind_group(0, &self.frame_group, &[]);
        pass.set_bind_group(1, &self.look_group, &[place]);
        pass.set_vertex_buffer(0, points.slice(..));
        pass.set_vertex_buffer(1, normals.slice(..));
        pass.set_vertex_buffer(2, parts.slice(..));
        pass.set_index_buffer(faces.slice(..), VERTEX_INDEX_FORMAT);
        let count = u32::try_from(faces.size() / 4).unwrap_or(0);
        pass.draw_indexed(0..count, 0, 0..1);
    }
}
