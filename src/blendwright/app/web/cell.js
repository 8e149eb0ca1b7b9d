// A plain input that keeps what is typed in it, so that news for the rest of the page can't undo a
// keystroke. Far lighter than a full field of the framework: a formula has a hundred of them, and
// the framework draws all of the page again whenever anything on it changes. Its label is shown
// where no column head stands above it (style sheet: narrow screens).
export default {
  inheritAttrs: false,
  template: `<label :class="'cell-box of-' + $attrs['data-cell']">
    <span class="cell-label" aria-hidden="true">{{ label }}</span>
    <input v-bind="$attrs" :value="typed" @input="type" />
  </label>`,
  props: { value: String, turn: Number, label: String },
  data() {
    return { typed: this.value };
  },
  watch: {
    turn() {
      this.typed = this.value;
    },
  },
  methods: {
    type(event) {
      this.typed = event.target.value;
      this.$emit("update:value", [this.typed, this.turn]);
    },
  },
};
