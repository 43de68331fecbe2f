"use strict";
// Links rows, findings and the scene by node name; draws the scene where the browser can.
(function () {
  const said = document.getElementById("said");
  const rows = Array.from(document.querySelectorAll("main [data-node], main [data-place]"));
  const back = document.getElementById("back");
  const stacked = window.matchMedia("(max-width: 1599px)"); // scene above the tables, as in page.css
  let scene3d = null;
  let picked = null;
  const nothing = said.textContent;

  // --- rows ------------------------------------------------------------------------------------

  function makePickable(row) {
    const heading = row.querySelector("[data-pick]");
    if (!heading) return;
    const button = document.createElement("button");
    button.type = "button";
    button.className = "pick";
    button.setAttribute("aria-pressed", "false");
    while (heading.firstChild) button.appendChild(heading.firstChild);
    heading.appendChild(button);
    row.addEventListener("click", function (event) {
      if (!event.target.closest("summary, a")) choose(row, true);
    });
  }

  function choose(row, fromRow) {
    const again = picked === row;
    for (const other of rows) mark(other, false);
    picked = again ? null : row;
    if (picked) {
      const node = picked.dataset.node || "";
      for (const other of rows) if (other === row || (node && other.dataset.node === node && other.dataset.main)) mark(other, true);
      said.textContent = picked.dataset.said || picked.textContent.trim();
    } else {
      said.textContent = scene3d ? said.dataset.first : nothing;
    }
    back.hidden = !picked;
    if (scene3d) scene3d.show(picked ? picked.dataset.node : "", place(picked));
    if (picked && fromRow && scene3d && stacked.matches) lead(document.getElementById("stage"), "start");
  }

  function mark(row, on) {
    row.classList.toggle("picked", on);
    const button = row.querySelector("button.pick");
    if (button) button.setAttribute("aria-pressed", String(on));
  }

  function place(row) {
    return row && row.dataset.place ? row.dataset.place.split(" ").map(Number) : null;
  }

  // Opens what is folded round it and brings it into view.
  function lead(item, block) {
    window.fitcheckReveal(item);
    const still = window.matchMedia("(prefers-reduced-motion: reduce)").matches;
    item.scrollIntoView({ block: block, behavior: still ? "auto" : "smooth" });
  }

  function chooseNode(node, follow) {
    const row = rows.find(function (item) { return item.dataset.node === node && item.dataset.main; });
    if (!row) return;
    picked = null;
    choose(row, false);
    if (follow || !stacked.matches) lead(row, follow ? "center" : "nearest");
  }

  rows.forEach(makePickable);
  back.addEventListener("click", function () { if (picked) lead(picked, "center"); });
  window.addEventListener("beforeprint", function () { if (scene3d) scene3d.photograph(); });
  try {
    startScene();
  } catch (error) {
    console.warn(error); // the page says so itself: its words stay as they were written
  }

  // --- scene -----------------------------------------------------------------------------------

  function startScene() {
    const screen = document.getElementById("screen");
    const labels = document.getElementById("labels");
    const renderer = new THREE.WebGLRenderer({ antialias: true, alpha: true });
    renderer.outputEncoding = THREE.sRGBEncoding;
    renderer.setPixelRatio(Math.min(window.devicePixelRatio || 1, 2));
    renderer.localClippingEnabled = true;
    const canvas = renderer.domElement;
    canvas.tabIndex = 0;
    canvas.setAttribute("role", "img");
    canvas.setAttribute("aria-label", said.dataset.canvas);

    const world = new THREE.Scene();
    const camera = new THREE.PerspectiveCamera(32, 1, 0.02, 200);
    const lamp = new THREE.DirectionalLight(0xffffff, 0.55);
    const cut = new THREE.Plane(new THREE.Vector3(0, -1, 0), 1e6);
    world.add(new THREE.HemisphereLight(0xffffff, 0xb9b4a8, 0.75), lamp);
    const nodes = new Map();
    const spot = makeSpot();
    const extent = new THREE.Box3(); // of the scan
    const framed = new THREE.Box3(); // what a view shows: the kit and what is round it
    const corners = []; // points of the kit, which a view brings as near as its frame allows
    const eye = { target: new THREE.Vector3(), distance: 5, turn: 0, rise: 0.5 };
    let waiting = false, looked = false;

    function load(gltf) {
      gltf.scene.traverse(function (item) {
        const name = item.userData && item.userData.name;
        if (!item.isMesh || !name) return;
        nodes.set(name, item);
        item.material.clippingPlanes = name === "scan" ? [cut] : null;
        item.userData.opacity = item.material.opacity;
        if (name.startsWith("module:")) outline(item, 0x3a3a3a);
        if (name.startsWith("service:")) item.visible = false;
        if (/^(service|keep_out|solid):/.test(name)) outline(item, 0x6f7f8c);
        if (/^(module|hose|unrouted):/.test(name)) frameWith(item);
        if (name === "scan") openUp(item);
      });
      if (framed.isEmpty()) framed.copy(extent);
      world.add(gltf.scene, spot);
      screen.insertBefore(canvas, labels);
      document.getElementById("controls").hidden = false;
      makeLabels();
      fit();
      listen();
      scene3d = { show: show, photograph: photograph };
      said.textContent = said.dataset.first;
      document.documentElement.dataset.scene = "ready";
    }

    function frameWith(item) {
      framed.expandByObject(item);
      const points = item.geometry.attributes.position, step = Math.max(1, Math.floor(points.count / 150));
      for (let i = 0; i < points.count; i += step) corners.push(new THREE.Vector3().fromBufferAttribute(points, i).applyMatrix4(item.matrixWorld));
    }

    // Only walls that face us are drawn, so that one looks in through the near ones; what was
    // drawn of them never hides a hose.
    function openUp(scan) {
      extent.setFromObject(scan);
      scan.renderOrder = -1;
      scan.material.side = THREE.FrontSide;
      scan.material.transparent = false;
      scan.material.depthWrite = true;
      scan.userData.colour = scan.material.color.clone().lerp(new THREE.Color(0xffffff), 0.35);
      scan.material.color.copy(scan.userData.colour);
      scan.onAfterRender = function () { renderer.clearDepth(); };
    }

    function outline(item, colour) {
      const edges = new THREE.LineSegments(
        new THREE.EdgesGeometry(item.geometry, 30),
        new THREE.LineBasicMaterial({ color: colour, transparent: true })
      );
      edges.userData.edge = true;
      item.add(edges);
    }

    function makeSpot() {
      const ball = new THREE.Mesh(
        new THREE.SphereGeometry(1, 24, 16),
        new THREE.MeshBasicMaterial({ color: 0xf0e442, transparent: true, opacity: 0.75, depthTest: false })
      );
      ball.renderOrder = 5;
      ball.visible = false;
      return ball;
    }

    // --- looking -------------------------------------------------------------------------------

    const VIEWS = {
      corner: [-0.75, 0.5], above: [0, Math.PI / 2 - 0.001], starboard: [0, 0.0], astern: [-Math.PI / 2, 0.0],
    };

    function view(name) {
      eye.turn = VIEWS[name][0];
      eye.rise = VIEWS[name][1];
      framed.getCenter(eye.target);
      eye.distance = distanceToSee(framed);
      fill();
      draw();
    }

    // Slides and nears the eye until the kit fills the frame but for a margin.
    function fill() {
      const away = direction(), rel = new THREE.Vector3();
      const right = new THREE.Vector3(Math.cos(eye.turn), 0, -Math.sin(eye.turn));
      const up = new THREE.Vector3().crossVectors(away, right);
      const high = Math.tan((camera.fov * Math.PI) / 360), wide = high * camera.aspect;
      for (let round = 0; round < 8 && corners.length; round += 1) {
        let left = Infinity, most = -Infinity, low = Infinity, top = -Infinity;
        for (const corner of corners) {
          rel.copy(corner).sub(eye.target);
          const depth = Math.max(0.05, eye.distance - rel.dot(away));
          const x = rel.dot(right) / depth / wide, y = rel.dot(up) / depth / high;
          left = Math.min(left, x); most = Math.max(most, x); low = Math.min(low, y); top = Math.max(top, y);
        }
        eye.target.addScaledVector(right, ((left + most) / 2) * wide * eye.distance);
        eye.target.addScaledVector(up, ((low + top) / 2) * high * eye.distance);
        eye.distance = Math.max(0.15, (eye.distance * Math.max(most - left, top - low)) / 2 * 1.08);
      }
    }

    // The distance from which every corner of a box is inside the picture.
    function distanceToSee(box) {
      const away = direction();
      const right = new THREE.Vector3(Math.cos(eye.turn), 0, -Math.sin(eye.turn));
      const up = new THREE.Vector3().crossVectors(away, right);
      const high = Math.tan((camera.fov * Math.PI) / 360);
      let distance = 0.2;
      for (let i = 0; i < 8; i += 1) {
        const corner = new THREE.Vector3(
          i & 1 ? box.max.x : box.min.x, i & 2 ? box.max.y : box.min.y, i & 4 ? box.max.z : box.min.z
        ).sub(eye.target);
        const reach = Math.max(Math.abs(corner.dot(up)) / high, Math.abs(corner.dot(right)) / (high * camera.aspect));
        distance = Math.max(distance, reach + corner.dot(away));
      }
      return distance;
    }

    function direction() {
      return new THREE.Vector3(
        Math.sin(eye.turn) * Math.cos(eye.rise), Math.sin(eye.rise), Math.cos(eye.turn) * Math.cos(eye.rise)
      );
    }

    function fit() {
      const box = screen.getBoundingClientRect();
      if (!box.width || !box.height) return;
      renderer.setSize(box.width, box.height, false);
      camera.aspect = box.width / box.height;
      if (!looked) view("corner"); // the frame has a shape only once it is unfolded
      looked = true;
      for (const anchor of anchors) measure(anchor);
      draw();
    }

    function draw() {
      if (waiting) return;
      waiting = true;
      window.requestAnimationFrame(function () { waiting = false; drawNow(); });
    }

    function drawNow() {
      camera.position.copy(eye.target).addScaledVector(direction(), eye.distance);
      camera.near = Math.max(0.01, eye.distance / 100);
      camera.far = eye.distance * 20 + 20;
      camera.lookAt(eye.target);
      camera.updateProjectionMatrix();
      lamp.position.copy(camera.position).add(new THREE.Vector3(0, eye.distance * 0.4, 0));
      spot.scale.setScalar(eye.distance * 0.012);
      renderer.render(world, camera);
      moveLabels();
    }

    // --- labels --------------------------------------------------------------------------------

    const anchors = JSON.parse(document.getElementById("anchors").textContent);

    function makeLabels() {
      for (const anchor of anchors) {
        const label = document.createElement("button");
        label.type = "button";
        label.tabIndex = -1; // the rows serve the keyboard
        label.addEventListener("click", function () { chooseNode(anchor.node, true); });
        label.textContent = anchor.text;
        label.className = anchor.kind;
        if (anchor.colour) label.style.borderColor = anchor.colour;
        labels.appendChild(label);
        anchor.label = label;
        anchor.point = new THREE.Vector3(anchor.at[0], anchor.at[2], -anchor.at[1]);
      }
    }

    function measure(anchor) {
      anchor.wide = anchor.label.offsetWidth || anchor.wide;
      anchor.high = anchor.label.offsetHeight || anchor.high;
    }

    // Each label stands at its point, or beside it where another one stands already.
    function moveLabels() {
      const wide = screen.clientWidth, high = screen.clientHeight, at = new THREE.Vector3();
      const taken = [];
      for (const anchor of anchors) {
        at.copy(anchor.point).project(camera);
        const seen = at.z < 1 && Math.abs(at.x) < 1 && Math.abs(at.y) < 1;
        anchor.label.hidden = !seen;
        if (!seen) continue;
        const box = { x: (at.x + 1) * wide / 2, y: (1 - at.y) * high / 2, w: anchor.wide, h: anchor.high };
        const home = box.y;
        for (const shift of [0, -1, 1, -2, 2]) {
          box.y = home + shift * 0.8 * box.h;
          if (!taken.some(function (other) { return overlap(box, other); })) break;
        }
        taken.push(box);
        anchor.label.style.transform =
          "translate(-50%, -50%) translate(" + Math.round(box.x) + "px, " + Math.round(box.y) + "px)";
      }
    }

    function overlap(a, b) {
      return Math.abs(a.x - b.x) * 2 < a.w + b.w && Math.abs(a.y - b.y) * 2 < a.h + b.h;
    }

    // --- picking -------------------------------------------------------------------------------

    function show(node, point) {
      const lit = nodes.has(node) ? node : "";
      nodes.forEach(function (item, name) {
        const faded = Boolean(lit) && name !== lit;
        if (name === "scan") {
          item.material.color.copy(item.userData.colour).lerp(new THREE.Color(0xffffff), lit ? 0.6 : 0);
          return;
        }
        fade(item.material, faded ? 0.12 : 1, item.userData.opacity);
        for (const child of item.children) if (child.userData.edge) fade(child.material, faded ? 0.2 : 1, 1);
        if (name.startsWith("service:")) item.visible = serviceShown() || (lit !== "" && name.startsWith(lit.replace("module:", "service:") + ":"));
      });
      for (const anchor of anchors) anchor.label.classList.toggle("faded", Boolean(lit) && anchor.node !== lit);
      spot.visible = Boolean(point);
      if (point) spot.position.set(point[0], point[2], -point[1]);
      draw();
    }

    function fade(material, part, whole) {
      material.opacity = part * whole;
      material.transparent = material.opacity < 1;
      material.depthWrite = material.opacity === 1;
      material.needsUpdate = true;
    }

    function serviceShown() {
      return document.querySelector("[data-show=service]").checked;
    }

    function pick(event) {
      const box = canvas.getBoundingClientRect();
      const at = new THREE.Vector2(
        ((event.clientX - box.left) / box.width) * 2 - 1, 1 - ((event.clientY - box.top) / box.height) * 2
      );
      const ray = new THREE.Raycaster();
      ray.setFromCamera(at, camera);
      const targets = [];
      nodes.forEach(function (item, name) { if (/^(hose|unrouted|module):/.test(name)) targets.push(item); });
      const hit = ray.intersectObjects(targets, false)[0];
      if (hit) chooseNode(hit.object.userData.name, false);
      else if (picked) choose(picked, false);
    }

    // --- hands ---------------------------------------------------------------------------------

    function listen() {
      const fingers = new Map();
      let moved = 0;
      canvas.addEventListener("pointerdown", function (event) {
        canvas.setPointerCapture(event.pointerId);
        if (fingers.size === 0) moved = 0;
        fingers.set(event.pointerId, event);
      });
      canvas.addEventListener("pointermove", function (event) {
        const before = fingers.get(event.pointerId);
        if (!before) return;
        const dx = event.clientX - before.clientX, dy = event.clientY - before.clientY;
        moved += Math.abs(dx) + Math.abs(dy);
        if (fingers.size > 1) pinch(fingers, before, event, dx, dy);
        else if (event.buttons & 6 || event.shiftKey) slide(dx, dy);
        else turn(dx, dy);
        fingers.set(event.pointerId, event);
      });
      function lift(event) {
        fingers.delete(event.pointerId);
      }
      canvas.addEventListener("pointerup", function (event) {
        const clicked = fingers.size === 1 && moved < 6 && event.button === 0;
        lift(event);
        if (clicked) pick(event);
      });
      canvas.addEventListener("pointercancel", lift);
      canvas.addEventListener("contextmenu", function (event) { event.preventDefault(); });
      canvas.addEventListener("wheel", function (event) {
        event.preventDefault();
        zoom(Math.exp(event.deltaY * 0.0012));
      }, { passive: false });
      canvas.addEventListener("keydown", key);
      if (window.ResizeObserver) new ResizeObserver(fit).observe(screen);
      else window.addEventListener("resize", fit);
      for (const button of document.querySelectorAll("[data-view]")) {
        button.addEventListener("click", function () { view(button.dataset.view); });
      }
      for (const box of document.querySelectorAll("[data-show]")) box.addEventListener("change", switched);
      document.getElementById("cut").addEventListener("input", function (event) {
        const part = Number(event.target.value) / 100;
        cut.constant = part === 1 ? 1e6 : extent.min.y + part * (extent.max.y - extent.min.y);
        draw();
      });
    }

    function pinch(fingers, before, event, dx, dy) {
      const other = Array.from(fingers.values()).find(function (item) { return item.pointerId !== event.pointerId; });
      const far = function (item) { return Math.hypot(item.clientX - other.clientX, item.clientY - other.clientY) || 1; };
      zoom(far(before) / far(event));
      turn(0, dy / 2);
    }

    function turn(dx, dy) {
      eye.turn -= dx * 0.006;
      eye.rise = Math.max(-1.5, Math.min(Math.PI / 2 - 0.001, eye.rise + dy * 0.006));
      draw();
    }

    function slide(dx, dy) {
      const step = (2 * eye.distance * Math.tan((camera.fov * Math.PI) / 360)) / screen.clientHeight;
      const right = new THREE.Vector3().setFromMatrixColumn(camera.matrix, 0);
      const up = new THREE.Vector3().setFromMatrixColumn(camera.matrix, 1);
      eye.target.addScaledVector(right, -dx * step).addScaledVector(up, dy * step);
      draw();
    }

    function zoom(factor) {
      eye.distance = Math.max(0.15, Math.min(60, eye.distance * factor));
      draw();
    }

    function key(event) {
      const turns = { ArrowLeft: [-15, 0], ArrowRight: [15, 0], ArrowUp: [0, 15], ArrowDown: [0, -15] };
      if (turns[event.key]) turn(turns[event.key][0], turns[event.key][1]);
      else if (event.key === "+" || event.key === "=") zoom(0.85);
      else if (event.key === "-") zoom(1 / 0.85);
      else return;
      event.preventDefault();
    }

    function switched(event) {
      const what = event.target.dataset.show, on = event.target.checked;
      if (what === "labels") labels.style.display = on ? "" : "none";
      if (what === "picture") screen.classList.toggle("still", on);
      if (what === "scan" && nodes.has("scan")) nodes.get("scan").visible = on;
      if (what === "service") show(picked ? picked.dataset.node : "", place(picked));
      draw();
    }

    // Paper shows the picture; where there is none, the scene as it stands.
    function photograph() {
      if (screen.querySelector("img")) return;
      drawNow();
      const image = document.createElement("img");
      image.alt = said.dataset.canvas;
      image.src = canvas.toDataURL("image/png");
      screen.insertBefore(image, canvas);
    }

    const text = document.getElementById("scene").textContent.trim();
    const bytes = Uint8Array.from(window.atob(text), function (mark) { return mark.charCodeAt(0); });
    new THREE.GLTFLoader().parse(bytes.buffer, "", load, console.warn);
  }
})();
